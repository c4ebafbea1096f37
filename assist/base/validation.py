"""Values of a file or a command line, made into a model: one clear line where one is wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from assist.base.errors import UserError, shown
from assist.base.units import bare_number
from assist.base.words import N_, _, _n, current, of_error

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
        line = _(
            "{what}: version {version} is newer than this program reads (up to {newest}): update "
            "the program",
            what=what,
            version=shown(version),
            newest=newest,
        )
        raise UserError(_("{line}, or {mend}", line=line, mend=mend) if mend else line)
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        line = f"{what}: {_first(error, names or {})}"
        raise UserError(f"{line}; {mend}" if mend else line) from error


def _first(error: ValidationError, names: Mapping[str, str]) -> str:
    """The first thing wrong, naming the field and the value."""
    first: Mapping[str, Any] = error.errors()[0]
    field = ".".join(str(part) for part in first["loc"])
    where = names.get(field, field)
    line = _problem(first, field)
    given = first.get("input")
    hidden = isinstance(given, (dict, BaseModel)) or given is None
    told = first["type"] == "value_error" and shown(given) in line
    if not hidden and not told:
        as_cm = _in_centimetres(first, field)
        line = (
            _("{wrong} (given {value}; write {as_cm} for centimetres)",
              wrong=line, value=shown(given), as_cm=as_cm)
            if as_cm
            else _("{wrong} (given {value})", wrong=line, value=shown(given))
        )  # fmt: skip
    more = len(error.errors()) - 1
    if more:
        line = _("{wrong}; and {n} more", wrong=line, n=more)
    return f"{where}: {line}" if where else line


_Context = Mapping[str, Any]

_PLAIN = {
    "missing": N_("Field required"),
    "extra_forbidden": N_("no such field"),
    "int_type": N_("must be a valid integer"),
    "int_parsing": N_("must be a valid integer, unable to parse string as an integer"),
    "int_parsing_size": N_("Unable to parse input string as an integer, exceeded maximum size"),
    "int_from_float": N_("must be a valid integer, got a number with a fractional part"),
    "float_type": N_("must be a valid number"),
    "float_parsing": N_("must be a valid number, unable to parse string as a number"),
    "finite_number": N_("must be a finite number"),
    "bool_type": N_("must be a valid boolean"),
    "bool_parsing": N_("must be a valid boolean, unable to interpret input"),
    "string_type": N_("must be a valid string"),
    "tuple_type": N_("must be a valid tuple"),
    "dict_type": N_("must be a valid dictionary"),
    "datetime_type": N_("must be a valid datetime"),
    "timezone_aware": N_("must have timezone info"),
}
"""The words for pydantic's types of errors that say all by their type."""
_MADE: Mapping[str, Callable[[_Context], str]] = {
    "literal_error": lambda ctx: _("must be {choices}", choices=_choices(ctx)),
    "enum": lambda ctx: _("must be {choices}", choices=_choices(ctx)),
    "model_type": lambda ctx: _(
        "must be a valid dictionary or instance of {name}", name=ctx["class_name"]
    ),
    "datetime_parsing": lambda ctx: _("must be a valid datetime, {why}", why=ctx["error"]),
    "datetime_from_date_parsing": lambda ctx: _(
        "must be a valid datetime or date, {why}", why=ctx["error"]
    ),
    "string_too_long": lambda ctx: _n(
        "String should have at most {n} character",
        "String should have at most {n} characters",
        ctx["max_length"],
    ),
    "too_long": lambda ctx: _n(
        "{kind} should have at most {n} item after validation, not {actual}",
        "{kind} should have at most {n} items after validation, not {actual}",
        ctx["max_length"],
        kind=ctx["field_type"],
        actual=ctx["actual_length"],
    ),
    "value_error": lambda ctx: of_error(ctx["error"]),
}
"""Those that say it with what pydantic tells of them, their context."""
_BOUNDS = {
    "less_than": ("lt", N_("must be less than {limit}")),
    "less_than_equal": ("le", N_("must be less than or equal to {limit}")),
    "greater_than": ("gt", N_("must be greater than {limit}")),
    "greater_than_equal": ("ge", N_("must be greater than or equal to {limit}")),
}
_UNITS = {"m": N_("{number} m"), "mm": N_("{number} mm"), "s": N_("{number} s"),
          "deg": N_("{number} degrees")}  # fmt: skip
"""By what a field's name ends in."""
_TOO_LONG = 10
"""How many times the longest length somebody must have typed to have meant centimetres."""


def _problem(first: Mapping[str, Any], field: str) -> str:
    """What is wrong, in the language that holds; pydantic's own words for what it says rarely."""
    kind, context = first["type"], first.get("ctx", {})
    if kind in _PLAIN:
        return _(_PLAIN[kind])
    if kind in _MADE:
        return _MADE[kind](context)
    if kind in _BOUNDS:
        of_context, message = _BOUNDS[kind]
        return _(message, limit=_limit(context[of_context], field))
    return str(first["msg"]).replace("Input should", "must")


def _choices(context: _Context) -> str:
    return str(context["expected"]).replace(" or ", _(" or "))


def _limit(limit: float, field: str) -> str:
    """A bound, in the unit that the field's name ends in."""
    number = current().decimal(f"{limit:.10f}".rstrip("0").rstrip("."))
    unit = _UNITS.get(_unit(field))
    return _(unit, number=number) if unit else number


def _in_centimetres(first: Mapping[str, Any], field: str) -> str:
    """A length too large in metres, written in centimetres; nothing where that is no use."""
    if first["type"] not in _BOUNDS or _unit(field) != "m":
        return ""
    number = bare_number(first["input"])
    most = first.get("ctx", {}).get("le")
    if number is None or most is None or not _TOO_LONG * most < number <= 100 * most:
        return ""
    return f"{number:g}cm"


def _unit(field: str) -> str:
    """What a field's name ends in after an underscore; empty where it has none."""
    before, underscore, last = field.rpartition("_")
    return last if before and underscore else ""
