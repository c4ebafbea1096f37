"""The examples that end the help of every command."""

from __future__ import annotations

HEADING = "Examples:"


def examples(*lines: str) -> str:
    """The end of a command's help; every line is a whole command, and is tested to be one."""
    return "\n\n".join((HEADING, *lines))
