"""Values of a file or a command line, made into a model: one clear line where one is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from assist.base.errors import UserError, shown
from assist.base.units import bare_number

Model = TypeVar("Model", bound=BaseModel)


def validated(
    kind: type[Model],
    values: dict[str, Any],
    what: str,
    names: Mapping[str, str] | None = None,
    mend: str = "",
    newest: int | None = None,
) -> Model:
    """The model of those values. Raises UserError with the first thing wrong.

    what: names the file in the message.   names: how the user calls a field, where that is not its
    place in the file.   mend: how to mend it, where the line does not say so by itself.
    newest: the newest version of the file's layout that this program reads, where it has versions.
    """
    version = values.get("version")
    if newest is not None and isinstance(version, int) and version > newest:
        raise UserError(
            f"{what}: version {shown(version)} is newer than this program reads (up to {newest}): "
            "update the program" + (f", or {mend}" if mend else "")
        )
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        line = f"{what}: {_first(error, names or {})}"
        raise UserError(f"{line}; {mend}" if mend else line) from error


def _first(error: ValidationError, names: Mapping[str, str]) -> str:
    """The first thing wrong, naming the field and the value."""
    first = error.errors()[0]
    where = ".".join(str(part) for part in first["loc"])
    unit = _unit(where) if first["type"] in _BOUNDS else ""
    as_cm = _in_centimetres(first) if unit == _METRES else ""
    where = names.get(where, where)
    what = str(first["msg"]).removeprefix("Value error, ").replace("Input should", "must")
    if first["type"] == "extra_forbidden":
        what = "no such field"
    given = first.get("input")
    hidden = isinstance(given, (dict, BaseModel)) or given is None
    with_value = "" if hidden else f" (given {shown(given)}{as_cm})"
    if first["type"] == "value_error" and shown(given) in what:
        with_value = ""
    more = len(error.errors()) - 1
    others = f"; and {more} more" if more else ""
    return (f"{where}: " if where else "") + what + unit + with_value + others


_BOUNDS = ("less_than", "less_than_equal", "greater_than", "greater_than_equal")
_UNITS = {"m": "m", "mm": "mm", "s": "s", "deg": "degrees"}


_METRES = " m"
_TOO_LONG = 10
"""How many times the longest length somebody must have typed to have meant centimetres."""


def _in_centimetres(first: Mapping[str, Any]) -> str:
    """How to write a length that would be right in centimetres; nothing where none would."""
    number = bare_number(first["input"])
    most = first.get("ctx", {}).get("le")
    if number is None or most is None or not _TOO_LONG * most < number <= 100 * most:
        return ""
    return f"; write {number:g}cm for centimetres"


def _unit(where: str) -> str:
    """The unit that a field's name ends in, with a space before it; empty where it has none."""
    _, underscore, last = where.rpartition("_")
    unit = _UNITS.get(last) if underscore else None
    return f" {unit}" if unit else ""
