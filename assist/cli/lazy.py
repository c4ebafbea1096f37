"""Commands that are loaded when they are wanted, so that the program starts quickly.

The help of the whole program needs only each command's name and one line.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

from assist.cli import help_text


@dataclass(frozen=True)
class Entry:
    """A command, or a group of them, that is not loaded yet.

    module: where it is. A command is the function of that name there, with its EXAMPLES; a group is
        the Typer called `app`.
    line: the first sentence of its help; a test compares it with the real one.
    """

    name: str
    module: str
    line: str

    def load(self) -> Any:
        """The command itself. Raises ImportError where a library that it needs does not load."""
        module = importlib.import_module(self.module)
        around = typer.Typer()
        group = getattr(module, "app", None)
        if group is None:
            around.command(self.name, epilog=module.EXAMPLES)(getattr(module, self.name))
        else:
            around.add_typer(group, name=self.name)
        help_text.let_flow(around)
        command = typer.main.get_group(around).commands[self.name]
        help_text.translate(command)
        return command


class LazyGroup(TyperGroup):
    """A group whose commands are loaded as they are invoked.

    `commands` holds stand-ins with a name and a line of help until then.
    """

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self._entries: dict[str, Entry] = {}

    def add(self, entry: Entry) -> None:
        """One more command, listed after those before it."""
        self._entries[entry.name] = entry
        self.commands[entry.name] = TyperCommand(entry.name, help=help_text.translated(entry.line))

    def load(self, name: str) -> None:
        """Put the command itself in the place of its stand-in; nothing for an unknown name."""
        entry = self._entries.pop(name, None)
        if entry is None:
            return
        try:
            self.commands[name] = entry.load()
        except BaseException:
            self._entries[name] = entry
            raise

    def load_all(self) -> None:
        """Load every command, as what looks into all of them needs."""
        for name in list(self._entries):
            self.load(name)

    def resolve_command(self, ctx: Any, args: list[str]) -> tuple[str | None, Any, list[str]]:
        """Find the command that the arguments begin with, loaded."""
        if args:
            self.load(args[0])
        return super().resolve_command(ctx, args)
