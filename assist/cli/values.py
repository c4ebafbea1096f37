"""What an option says, as a number."""

from __future__ import annotations

from collections.abc import Callable

from assist.errors import UserError


def stated(option: str, parse: Callable[[str], float], text: str) -> float:
    """An option's text as one of `assist.quantities` reads it; UserError naming the option."""
    try:
        return parse(text)
    except ValueError as error:
        raise UserError(f"{option}: {error}") from error
