"""Options that state a value of a model: name, help and choices come from the model's field.

What a value is called, what it means and what it may be is said once, in the model; a command's
option adds only where it is listed, and what the user of a command line must know besides.
"""

from __future__ import annotations

import re
import types
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

import typer
from pydantic import BaseModel
from pydantic.fields import FieldInfo

_UNIT = re.compile(r", (?:mm|m|s|degrees)(?=$|[,;])")
_NAME_OR_SIZE = re.compile(r"[-/]")


@dataclass(frozen=True)
class Of:
    """A mark on a field of options: it states the value at a place in a model.

    place: names of the fields that lead there, with dots between.   panel: under which heading the
    help lists it.   names: what it is called, where not by the field's own name.   more: a sentence
    after the model's own description.   help: what is said instead of that description.
    """

    model: type[BaseModel]
    place: str
    panel: str | None = None
    names: tuple[str, ...] = ()
    more: str = ""
    help: str = ""

    @property
    def field(self) -> FieldInfo:
        """The model's field. KeyError for a place that the model lacks."""
        model: Any = self.model
        *parts, last = self.place.split(".")
        for part in parts:
            model = model.model_fields[part].annotation
        found: FieldInfo = model.model_fields[last]
        return found

    @property
    def choices(self) -> tuple[str, ...]:
        """What the value may be, where that is one of a few words; else nothing."""
        return _choices(self.field.annotation)

    def help_text(self) -> str:
        """One or two sentences."""
        said = self.help or _sentence(self.field, self.choices)
        return f"{said} {self.more}".strip()

    def option(self, name: str, declared: Any) -> Any:
        """The annotation of an option of that field name, declared as of that type."""
        names = self.names or (option_name(name),)
        told = typer.Option(*names, help=self.help_text(), rich_help_panel=self.panel)
        if not self.choices:
            return Annotated[declared, told]
        one: Any = Literal[self.choices]
        return Annotated[one | None, told]


@dataclass(frozen=True)
class OneOf:
    """A mark on a field of options: one of a few words that only the program as it runs knows."""

    choices: tuple[str, ...]
    help: str
    panel: str | None = None

    def option(self, name: str, declared: Any) -> Any:
        """The annotation of an option of that field name."""
        del declared
        told = typer.Option(option_name(name), help=self.help, rich_help_panel=self.panel)
        one: Any = Literal[self.choices]
        return Annotated[one, told]


def option_name(name: str) -> str:
    """What the command line calls a field of options."""
    return "--" + name.replace("_", "-")


def _choices(annotation: Any) -> tuple[str, ...]:
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    if get_origin(annotation) in (Union, types.UnionType):
        return next((found for arg in get_args(annotation) if (found := _choices(arg))), ())
    return ()


def _sentence(field: FieldInfo, choices: tuple[str, ...]) -> str:
    """A field's description without its unit and with its examples, as a sentence."""
    text = _UNIT.sub("", field.description or "")
    if field.examples:
        first, semicolon, rest = text.partition(";")
        text = f"{first}: {', '.join(field.examples)}{semicolon}{rest}"
    first_word = text.split(" ", 1)[0].rstrip(",:")
    if first_word not in choices and not _NAME_OR_SIZE.search(first_word):
        text = text[:1].upper() + text[1:]
    return f"{text}."


def marks(options: Any) -> Iterator[tuple[str, Of]]:
    """The marked fields of a dataclass of options, each with its mark."""
    hints = get_type_hints(options, include_extras=True)
    for field in fields(options):
        for mark in getattr(hints[field.name], "__metadata__", ()):
            if isinstance(mark, Of):
                yield field.name, mark


def stated(*groups: Any) -> dict[str, Any]:
    """What instances of dataclasses of options state: values by their places in the model."""
    return {
        mark.place: value
        for group in groups
        for name, mark in marks(type(group))
        if (value := getattr(group, name)) is not None
    }


def names(*kinds: Any) -> Mapping[str, str]:
    """What the command line calls each place, for errors about it."""
    return {
        mark.place: (mark.names or (option_name(name),))[0]
        for kind in kinds
        for name, mark in marks(kind)
    }
