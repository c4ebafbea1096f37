"""Lines as a user types them, read by the real command line without being run."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

import typer

from assist import cli

ROOT = cli.command_line(whole=True)


def is_group(command) -> bool:
    return hasattr(command, "commands")


def every_command(command=ROOT, path=("assist",)) -> Iterator[tuple[tuple[str, ...], object]]:
    """Each command with the words that name it, groups included."""
    yield path, command
    for name, inner in getattr(command, "commands", {}).items():
        yield from every_command(inner, (*path, name))


def named_by(words):
    """The deepest command that the words name, and the words that are left."""
    command, words = ROOT, words[1:]
    while is_group(command) and words and words[0] in command.commands:
        command, words = command.commands[words[0]], words[1:]
    return command, words


def parse(line: str) -> None:
    """Raise what the command line raises for the line; nothing is run."""
    words = shlex.split(line)
    assert words[0] == "assist", line
    command, parent = ROOT, None
    arguments = words[1:]
    try:
        while True:
            context = command.make_context(command.name, list(arguments), parent=parent)
            if not is_group(command):
                return
            rest = [*context._protected_args, *context.args]
            if not rest:
                return
            _, inner, arguments = command.resolve_command(context, rest)
            command, parent = inner, context
    except typer.Exit as end:  # --help and --version
        assert end.exit_code == 0, line
