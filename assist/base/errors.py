"""The one kind of error that is the user's to mend; the program's exit codes."""

from __future__ import annotations

BAD_INPUT = 2
"""Exit code of a user's mistake."""
INTERRUPTED = 130
"""What shells report for a program that an interrupt has ended."""


class UserError(Exception):
    """Bad input or a missing thing, told in one line: what is wrong, the value, how to mend it.

    The command line prints the line and ends with exit code 2; nothing else is shown.
    """


_SHOWN = 60


def shown(value: object) -> str:
    """A value for an error message: as Python writes it, cut to a length that fits a line."""
    from assist.base.secret import without_secrets  # noqa: PLC0415  (it has errors of its own)

    try:
        text = repr(without_secrets(value) if isinstance(value, str) else value)
    except (ValueError, RecursionError):  # an integer of thousands of digits; endless nesting
        from assist.base.words import _  # noqa: PLC0415  (words have errors of their own)

        return _("a {kind} too large to show", kind=type(value).__name__)
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 4]} ..."
