"""What every command's help is made of besides its options: flowing text, and examples."""

from __future__ import annotations

import inspect

import typer

HEADING = "Examples:"


def examples(*lines: str) -> str:
    """The end of a command's help; every line is a whole command, and is tested to be one."""
    return "\n\n".join((HEADING, *lines))


def let_flow(app: typer.Typer) -> None:
    """Take the lines of all docstrings apart, so that the terminal's width breaks them anew."""
    for command in app.registered_commands:
        if command.callback is not None:
            paragraphs = (inspect.getdoc(command.callback) or "").split("\n\n")
            command.help = "\n\n".join(" ".join(part.split()) for part in paragraphs)
    for group in app.registered_groups:
        if group.typer_instance is not None:
            let_flow(group.typer_instance)
