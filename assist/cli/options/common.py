"""Options that no set-up is behind, each written once. They load no further library."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from assist.base.errors import UserError
from assist.base.system import display, here
from assist.base.words import Units, _, languages


def parsed(parse: Callable[[str], Any]) -> Callable[[str], Any]:
    """A parser of an option's text that tells a ValueError as the option's own."""

    def read(text: str) -> Any:
        try:
            return parse(text)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from error

    return read


Rotate = Annotated[
    Literal[0, 90, 180, 270],
    typer.Option("--rotate", help="Turn the feed clockwise by so many degrees."),
]
PoseModel = Annotated[
    Path | None, typer.Option("--pose-model", metavar="FILE", help="A pose landmarker bundle.")
]


def units_name(given: str) -> Units:
    """Metres or feet, as people write them; ValueError for anything else."""
    wanted = given.strip().lower()
    if wanted in ("metres", "meters", "m"):
        return "metres"
    if wanted in ("feet", "ft"):
        return "feet"
    raise ValueError(_("metres or feet, not {given}", given=repr(given)))


def language_code(given: str) -> str:
    """The code of a language that there are words in; ValueError for any other."""
    if given not in languages():
        known = ", ".join(languages())
        raise ValueError(_("one of {known}, not {given}", known=known, given=repr(given)))
    return given


Language = Annotated[
    str | None,
    typer.Option(
        "--language",
        parser=parsed(language_code),
        metavar=f"<{'|'.join(languages())}>",
        help="Of all words, shown and spoken; that of this computer if left out.",
    ),
]


def _units(help_text: str, panel: str | None = None) -> Any:
    return typer.Option(
        "--units",
        parser=parsed(units_name),
        metavar="<metres|feet>",
        help=help_text,
        rich_help_panel=panel,
    )


LengthUnits = Annotated[Units, _units("Lengths on screen in metres or feet.")]
PlanUnits = Annotated[Units, _units("Lengths in metres or feet.", "What to write")]
Window = Annotated[
    bool | None,
    typer.Option("--window/--no-window", help="Show a window; by default if there is a display."),
]


def window_wanted(given: bool | None) -> bool:
    """Whether to show a window. UserError when one is asked for and there is no display."""
    problem = display.problem(here())
    if given and problem:
        raise UserError(_("no window can be opened ({problem}): use --no-window", problem=problem))
    return not problem if given is None else given
