"""The second screen on the command line."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.words import _
from assist.cli.options.of_model import option_name
from assist.run.second_screen import LOOPBACK, Sharing

_PANEL = "Second screen"

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
            raise UserError(_("{option} needs --share", option=option_name(field.name)))
    return None
