"""The second screen: the guidance on a telephone or tablet, served from this machine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from assist.base.errors import UserError
from assist.base.words import Words, _
from assist.output.listeners import Listener
from assist.output.screen.plan_view import PlanView
from assist.output.screen.screen import ScreenOptions
from assist.setup.set_up import SetUp

LOOPBACK = "127.0.0.1"
"""Reached from this machine alone."""


@dataclass(frozen=True)
class Sharing:
    """How the second screen is served.

    address: this machine's, in the network that the device is in.   port: 0 takes any free one.
    devices: how many may pair with the code.   video: whether the picture is sent too.
    qr_file: where the pairing link's QR code is written (.png or .svg), None for nowhere.
    """

    address: str = LOOPBACK
    port: int = 0
    devices: int = 1
    video: bool = False
    qr_file: Path | None = None


def open_second_screen(
    sharing: Sharing,
    set_up: SetUp,
    say: Words,
    volume_percent: float,
    screen: ScreenOptions,
    ended: Callable[[str], None] = lambda _: None,
    tell: Callable[[str], None] = lambda _: None,
    *,
    draw_code: bool = False,
    next_person: Callable[[], None] = lambda: None,
) -> Listener:
    """Start the server and `tell`, line by line, where it is.

    screen: the guidance screen, whose theme the page begins with.   ended: gets one line when the
    server ends by itself.   draw_code: whether the QR code is told too, as lines of characters.
    next_person: called, on any thread, when the page asks for the next one in view to be followed.
    Raises UserError when it cannot be started.
    """
    try:
        from assist.output.phone.listener import SecondScreen  # noqa: PLC0415
        from assist.output.phone.server import ShareServer  # noqa: PLC0415
    except ImportError as error:
        raise UserError(
            _(
                "--share needs: {command}",
                command="pip install 'self-portrait-assist[share]'",
            )
        ) from error
    from assist.output.phone import qr  # noqa: PLC0415
    from assist.output.phone.page_settings import page_settings  # noqa: PLC0415
    from assist.output.phone.page_words import page_words  # noqa: PLC0415
    from assist.output.phone.pairing import Pairing  # noqa: PLC0415

    pairing = Pairing(sharing.devices)
    view = PlanView(set_up.focus_zone)
    settings = page_settings(
        view,
        say,
        volume_percent,
        theme=screen.theme.name,
        mirrored=screen.mirrored,
        video=sharing.video,
    )
    server = ShareServer(
        pairing,
        page_words(say),
        settings,
        sharing.address,
        sharing.port,
        sharing.video,
        ended,
        next_person,
    )
    try:
        if sharing.qr_file is not None:
            qr.save(server.link, sharing.qr_file)
        if draw_code:
            tell(qr.for_terminal(server.link))
    except UserError:
        server.close()
        raise
    tell(_("second screen: {link}", link=server.link))
    address, code = f"http://{server.host}/", pairing.spaced_code
    tell("  " + _("or open {address} and type {code}", address=address, code=code))
    if server.loopback:
        option = "--share-address" + _outward_address()
        tell("  " + _("only on this machine; for a telephone give {option}", option=option))
    return SecondScreen(server, view, sharing.video)


def _outward_address() -> str:
    from assist.output.phone.addresses import outward_address  # noqa: PLC0415

    address = outward_address()
    return "" if address is None else f" {address}"
