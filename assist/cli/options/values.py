"""What an option says as a number, and what is noted of it on the terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable

import typer

from assist.base.errors import UserError
from assist.base.units import bare_number
from assist.base.words import _, current

_FAR_M = 100
"""Farther than anybody stands who is to be seen: without a unit it may not have meant metres."""


def stated(option: str, parse: Callable[[str], float], text: str) -> float:
    """An option's text as one of `assist.base.units` reads it; UserError naming the option."""
    try:
        return parse(text)
    except ValueError as error:
        raise UserError(_("{option}: {error}", option=option, error=error)) from error


def remark_far(option: str, text: str | None) -> None:
    """Say how a length was taken that has no unit and would be very long in metres."""
    number = None if text is None else bare_number(text)
    if number is not None and number > _FAR_M:
        figure = current().decimal(f"{number:g}")
        note(
            _(
                "{option}: taken as {figure} m; write {figure}cm for centimetres",
                option=option,
                figure=figure,
            )
        )


def note(line: str) -> None:
    """One line for the user that is no error."""
    typer.echo(f"assist: {line}", err=True)


def in_a_conversation() -> bool:
    """Whether somebody sits at a terminal and can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()
