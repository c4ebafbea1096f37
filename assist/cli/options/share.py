"""The second screen on the command line."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.words import Words
from assist.output.listeners import Listener
from assist.output.screen.plan_view import PlanView
from assist.output.screen.screen import ScreenOptions
from assist.setup.set_up import SetUp

_PANEL = "Second screen"
LOOPBACK = "127.0.0.1"

Share = Annotated[
    bool,
    typer.Option(
        "--share",
        rich_help_panel=_PANEL,
        help="Show the guidance on a telephone or tablet too: serves one page, to this machine "
        "alone unless --share-address is given. The link is not encrypted: use a network you "
        "trust.",
    ),
]
ShareAddress = Annotated[
    str | None,
    typer.Option(
        "--share-address",
        rich_help_panel=_PANEL,
        metavar="IP",
        help="This machine's address in the network that the telephone is in; 0.0.0.0 for all.",
    ),
]
SharePort = Annotated[
    int,
    typer.Option(
        "--share-port", rich_help_panel=_PANEL, min=0, max=65535, help="0 takes any free one."
    ),
]
ShareDevices = Annotated[
    int,
    typer.Option(
        "--share-devices",
        rich_help_panel=_PANEL,
        min=1,
        max=8,
        help="How many devices may pair with the code.",
    ),
]
ShareVideo = Annotated[
    bool,
    typer.Option(
        "--share-video",
        rich_help_panel=_PANEL,
        help="Send the picture too; without this it never leaves this machine.",
    ),
]
ShareQr = Annotated[
    Path | None,
    typer.Option(
        "--share-qr",
        rich_help_panel=_PANEL,
        metavar="FILE",
        help="Write the pairing link's QR code as .png or .svg.",
    ),
]


@dataclass(frozen=True)
class ShareOptions:
    """The options of the second screen."""

    share: Share = False
    share_address: ShareAddress = None
    share_port: SharePort = 0
    share_devices: ShareDevices = 1
    share_video: ShareVideo = False
    share_qr: ShareQr = None


@dataclass(frozen=True)
class Sharing:
    """What the options ask for."""

    address: str
    port: int
    devices: int
    video: bool
    qr_file: Path | None


def gather(given: ShareOptions) -> Sharing | None:
    """The second screen that the options describe, None for none.

    Raises UserError for options that only mean something with --share, where it is missing: nothing
    may listen that was not asked for.
    """
    if given.share:
        return Sharing(
            given.share_address or LOOPBACK,
            given.share_port,
            given.share_devices,
            given.share_video,
            given.share_qr,
        )
    for field in fields(ShareOptions):
        if getattr(given, field.name) != field.default:
            raise UserError(f"--{field.name.replace('_', '-')} needs --share")
    return None


def open_second_screen(
    sharing: Sharing,
    set_up: SetUp,
    say: Words,
    volume_percent: float,
    screen: ScreenOptions,
    ended: Callable[[str], None] = lambda _: None,
) -> Listener:
    """Start the server and say where it is. Raises UserError when it cannot be started.

    screen: the guidance screen, whose theme the page begins with.   `ended` gets one line when it
    ends by itself.
    """
    try:
        from assist.output.phone.listener import SecondScreen  # noqa: PLC0415
        from assist.output.phone.server import ShareServer  # noqa: PLC0415
    except ImportError as error:
        raise UserError("--share needs: pip install 'self-portrait-assist[share]'") from error
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
        pairing, page_words(say), settings, sharing.address, sharing.port, sharing.video, ended
    )
    try:
        if sharing.qr_file is not None:
            qr.save(server.link, sharing.qr_file)
        if sys.stdout.isatty():
            typer.echo(qr.for_terminal(server.link))
    except UserError:
        server.close()
        raise
    typer.echo(f"second screen: {server.link}")
    typer.echo(f"  or open http://{server.host}/ and type {pairing.spaced_code}")
    if server.loopback:
        typer.echo("  only on this machine; for a telephone give --share-address" + _hint())
    return SecondScreen(server, view, sharing.video)


def _hint() -> str:
    from assist.output.phone.addresses import outward_address  # noqa: PLC0415

    address = outward_address()
    return "" if address is None else f" {address}"
