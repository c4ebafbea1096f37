"""The guidance screen on the command line."""

from __future__ import annotations

import re
from typing import Annotated

import typer

from assist.errors import UserError
from assist.overlay.palette import THEMES
from assist.overlay.screen import LEAST_SIDE_PX, ScreenOptions
from assist.quantities import parse_length_m

_PANEL = "Guidance screen"
_MOST_SIDE_PX = 8192

Mirror = Annotated[
    bool,
    typer.Option(
        "--mirror/--no-mirror",
        rich_help_panel=_PANEL,
        help="Show the picture as in a looking-glass.",
    ),
]
FullScreen = Annotated[
    bool, typer.Option("--full-screen", rich_help_panel=_PANEL, help="Open it full screen.")
]
WindowAt = Annotated[
    str | None,
    typer.Option(
        "--window-at",
        rich_help_panel=_PANEL,
        metavar="X,Y",
        help="Where its corner goes, in pixels: 1920,0 for a second display on the right.",
    ),
]
ScreenSize = Annotated[
    str,
    typer.Option(
        "--screen-size",
        rich_help_panel=_PANEL,
        help="Width x height in pixels: 1280x720, or 720x1280 for an upright screen.",
    ),
]
ScreenDiagonal = Annotated[
    str,
    typer.Option(
        "--screen-diagonal",
        rich_help_panel=_PANEL,
        help="Of your screen: 13in, 60cm. The words are made high enough to be read from where "
        "you stand.",
    ),
]
ThemeName = Annotated[
    str,
    typer.Option(
        "--theme", rich_help_panel=_PANEL, help=f"{', '.join(THEMES)}: for sunlight, for the dark."
    ),
]


def pair(option: str, text: str) -> tuple[int, int]:
    """Two whole numbers, as in 1280x720 or 1920,0. Raises UserError naming the option."""
    match = re.match(r"^\s*(-?\d{1,5})\s*[x×,]\s*(-?\d{1,5})\s*$", text)
    if match is None:
        raise UserError(f"{option}: write it as 1280x720, not {text!r}")
    return int(match[1]), int(match[2])


def gather(size: str, diagonal: str, theme: str, mirrored: bool) -> ScreenOptions:
    """The screen that the options describe. Raises UserError naming the option."""
    size_px = pair("--screen-size", size)
    if not all(LEAST_SIDE_PX <= side <= _MOST_SIDE_PX for side in size_px):
        raise UserError(
            f"--screen-size: each side must be from {LEAST_SIDE_PX} to {_MOST_SIDE_PX} pixels, "
            f"not {size}"
        )
    try:
        diagonal_m = parse_length_m(diagonal, "in")
    except ValueError as error:
        raise UserError(f"--screen-diagonal: {error}") from error
    if not 0.05 <= diagonal_m <= 5:
        raise UserError(f"--screen-diagonal must be from 5 cm to 5 m, not {diagonal}")
    if theme not in THEMES:
        raise UserError(f"--theme is {', '.join(THEMES)}, not {theme!r}")
    return ScreenOptions(size_px, mirrored, "", THEMES[theme], diagonal_m)
