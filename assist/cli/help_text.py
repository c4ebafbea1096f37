"""The words of the help: in the code in English, shown in the language of the computer.

A help text is translated paragraph by paragraph when its command is loaded. A line of examples is a
command line, the same in every language.
"""

from __future__ import annotations

import gettext
import inspect
from collections.abc import Iterator
from typing import Any

import typer

from assist.base.words import N_, _
from assist.base.words.languages import DOMAIN, FOLDER
from assist.cli.examples import HEADING

LIBRARY = ("Arguments", "Options", "Commands", "[default: {}]", "[required]")
"""What the library of the command line puts into a help, which it has translated by gettext."""
USAGE = N_("Usage:")
OF_EVERY_COMMAND = "Show this message and exit."


def let_library_speak() -> None:
    """Let the library take its own words from our catalogues, for the whole process."""
    gettext.bindtextdomain(DOMAIN, str(FOLDER))
    gettext.textdomain(DOMAIN)


def let_flow(app: typer.Typer) -> None:
    """Take the lines of all docstrings apart, so that the terminal's width breaks them anew."""
    for command in app.registered_commands:
        if command.callback is not None:
            paragraphs = (inspect.getdoc(command.callback) or "").split("\n\n")
            command.help = "\n\n".join(" ".join(part.split()) for part in paragraphs)
    for group in app.registered_groups:
        if group.typer_instance is not None:
            let_flow(group.typer_instance)


def translated(text: str) -> str:
    """A help text in the language that holds here."""
    return "\n\n".join(_(paragraph) for paragraph in text.split("\n\n"))


def _examples(text: str) -> str:
    """The end of a help: the heading is words, the lines under it are commands."""
    heading, *lines = text.split("\n\n")
    return "\n\n".join((_(heading), *lines))


def translate(command: Any) -> None:
    """Put the help of a command, its options and the commands in it into the language here."""
    if command.help:
        command.help = translated(command.help)
    if command.epilog:
        command.epilog = _examples(command.epilog)
    for parameter in command.params:
        if parameter.help:
            parameter.help = translated(parameter.help)
        if parameter.rich_help_panel:
            parameter.rich_help_panel = _(parameter.rich_help_panel)
    _translate_help_option(command)
    _translate_usage(command)
    for inner in getattr(command, "commands", {}).values():
        translate(inner)


def _translate_help_option(command: Any) -> None:
    """The library makes this option itself, when it first needs it."""
    make = command.get_help_option

    def translated_option(context: Any) -> Any:
        option = make(context)
        if option is not None and option.help == OF_EVERY_COMMAND:
            option.help = _(OF_EVERY_COMMAND)
        return option

    command.get_help_option = translated_option


def _translate_usage(command: Any) -> None:
    """The library has the heading of the usage in English alone."""
    usage = command.get_usage

    def translated_usage(context: Any) -> str:
        text = str(usage(context))
        return _(USAGE) + text.removeprefix(USAGE)

    command.get_usage = translated_usage


def every_text(command: Any) -> Iterator[str]:
    """Every message of a command's help, as the catalogues of words hold them: in English.

    The command must have been loaded while English was spoken.
    """
    yield from (*LIBRARY, OF_EVERY_COMMAND)
    yield from _of(command)


def _of(command: Any) -> Iterator[str]:
    if command.help:
        yield from command.help.split("\n\n")
    if command.epilog:
        yield HEADING
    for parameter in command.params:
        if parameter.help:
            yield from parameter.help.split("\n\n")
        if parameter.rich_help_panel:
            yield parameter.rich_help_panel
    for inner in getattr(command, "commands", {}).values():
        yield from _of(inner)
