"""The guidance screen on the command line."""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.units import parse_length_m
from assist.base.words import _
from assist.cli.options.common import Window
from assist.cli.options.of_model import OneOf
from assist.cli.options.values import note, stated
from assist.output.screen.layout import DEFAULT_DIAGONAL_M
from assist.output.screen.palette import THEMES
from assist.output.screen.screen import LEAST_SIDE_PX, ScreenOptions
from assist.setup import preferences

_PANEL = "Guidance screen"
_MOST_SIDE_PX = 8192
_USUAL_DIAGONAL = "13in"

Mirror = Annotated[
    bool,
    typer.Option(
        "--mirror/--no-mirror",
        rich_help_panel=_PANEL,
        help="Show the picture mirrored.",
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
    str | None,
    typer.Option(
        "--screen-diagonal",
        rich_help_panel=_PANEL,
        help="Of your screen: 13in, 60cm. The words are made high enough to be read from where "
        "you stand. If left out: what you answered when a terminal first asked you, else 13in.",
    ),
]
ThemeName = Annotated[
    str, OneOf(tuple(THEMES), "Its colours: also for sunlight and for the dark.", _PANEL)
]


@dataclass(frozen=True)
class WindowOptions:
    """The options of the guidance screen."""

    window: Window = None
    mirror: Mirror = True
    full_screen: FullScreen = False
    window_at: WindowAt = None
    screen_size: ScreenSize = "1280x720"
    screen_diagonal: ScreenDiagonal = None
    theme: ThemeName = "plain"


def pair(option: str, text: str, example: str = "1280x720") -> tuple[int, int]:
    """Two whole numbers, as in 1280x720 or 1920,0. Raises UserError with option and example."""
    match = re.match(r"^\s*(-?\d{1,5})\s*[x×,]\s*(-?\d{1,5})\s*$", text)
    if match is None:
        raise UserError(
            _(
                "{option}: write it as {example}, not {text}",
                option=option,
                example=example,
                text=repr(text),
            )
        )
    return int(match[1]), int(match[2])


def place(given: WindowOptions) -> tuple[int, int] | None:
    """Where the window goes; None where that is left to the system."""
    return None if given.window_at is None else pair("--window-at", given.window_at, "1920,0")


def gather(given: WindowOptions, *, shown: bool) -> ScreenOptions:
    """The screen that the options describe. Raises UserError naming the option.

    shown: whether there will be a window; only then is its size worth a question.
    """
    size, theme = given.screen_size, given.theme
    size_px = pair("--screen-size", size)
    if not all(LEAST_SIDE_PX <= side <= _MOST_SIDE_PX for side in size_px):
        raise UserError(
            _(
                "--screen-size: each side must be from {least} to {most} pixels, not {size}",
                least=LEAST_SIDE_PX,
                most=_MOST_SIDE_PX,
                size=size,
            )
        )
    diagonal_m = (
        known_diagonal_m(preferences.usual_path(), ask=shown and _in_a_conversation())
        if given.screen_diagonal is None
        else stated("--screen-diagonal", diagonal, given.screen_diagonal)
    )
    return ScreenOptions(size_px, given.mirror, "", THEMES[theme], diagonal_m)


def diagonal(text: str) -> float:
    """A screen's diagonal as people write it, in metres; bare figures are inches. ValueError."""
    length_m = parse_length_m(text, "in")
    if not preferences.LEAST_DIAGONAL_M <= length_m <= preferences.MOST_DIAGONAL_M:
        raise ValueError(_("a screen's diagonal is from 5 cm to 5 m, not {text}", text=text))
    return length_m


def known_diagonal_m(path: Path, *, ask: bool) -> float:
    """The diagonal kept in the preferences, metres; asked for once where it is not and `ask`."""
    kept = preferences.load(path)
    if kept.screen_diagonal_m is not None:
        return kept.screen_diagonal_m
    if not ask:
        return DEFAULT_DIAGONAL_M
    length_m: float = typer.prompt(
        _(
            "How large is the screen that you will read from, corner to corner (13in, 60cm)?\n"
            "Words are made high enough for your distance; asked once"
        ),
        default=_USUAL_DIAGONAL,
        value_proc=_answer,
    )
    try:
        preferences.save(kept.model_copy(update={"screen_diagonal_m": length_m}), path)
    except UserError as error:  # the run matters more than the memory of it
        note(_("the answer could not be kept: {error}", error=error))
    return length_m


def _answer(text: str) -> float:
    try:
        return diagonal(text)
    except ValueError as error:
        raise typer.BadParameter(str(error)) from error


def _in_a_conversation() -> bool:
    """Whether somebody sits at a terminal and can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()
