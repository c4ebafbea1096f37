"""What the library of the command line says of a mistake, in the language that holds here.

It speaks English alone; its sentences are few, and told by their form. One that is not known stays
as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from assist.base.words import _

_Told = Callable[[Mapping[str, str]], str]

_FORMS: tuple[tuple[re.Pattern[str], _Told], ...] = tuple(
    (re.compile(form), told)
    for form, told in (
        (
            r"Invalid value for (?P<option>'.+?'|\S+): (?:Value error, )?(?P<why>.+)",
            lambda m: _(
                "Invalid value for {option}: {why}", option=m["option"], why=in_words(m["why"])
            ),
        ),
        (
            r"(?P<given>.+) is not one of (?P<choices>.+)\.",
            lambda m: _("{given} is not one of {choices}.", **m),
        ),
        (r"Missing option (?P<name>\S.*)\.", lambda m: _("Missing option {name}.", **m)),
        (r"Missing argument (?P<name>\S.*)\.", lambda m: _("Missing argument {name}.", **m)),
        (r"Missing command\.", lambda _m: _("Missing command.")),
        (r"No such option: (?P<name>\S+)", lambda m: _("No such option: {name}", **m)),
        (
            r"No such option: (?P<name>\S+) \(Possible options: (?P<known>.+)\)",
            lambda m: _("No such option: {name} (Possible options: {known})", **m),
        ),
        (r"No such command (?P<name>.+)\.", lambda m: _("No such command {name}.", **m)),
        (
            r"No such command (?P<name>.+)\. Did you mean (?P<known>.+)\?",
            lambda m: _("No such command {name}. Did you mean {known}?", **m),
        ),
        (
            r"Option (?P<name>\S+) requires an argument\.",
            lambda m: _("Option {name} requires an argument.", **m),
        ),
        (
            r"Option (?P<name>\S+) does not take a value\.",
            lambda m: _("Option {name} does not take a value.", **m),
        ),
        (
            r"Got unexpected extra argument\(s\) \((?P<given>.+)\)",
            lambda m: _("Got unexpected extra argument(s) ({given})", **m),
        ),
        (
            r"Input should be greater than or equal to (?P<least>\S+)",
            lambda m: _("Input should be greater than or equal to {least}", **m),
        ),
        (
            r"Input should be less than or equal to (?P<most>\S+)",
            lambda m: _("Input should be less than or equal to {most}", **m),
        ),
        (
            r"Input should be a valid integer, unable to parse string as an integer",
            lambda _m: _("Input should be a valid integer, unable to parse string as an integer"),
        ),
        (
            r"Input should be a valid number, unable to parse string as a number",
            lambda _m: _("Input should be a valid number, unable to parse string as a number"),
        ),
    )
)


def in_words(message: str) -> str:
    """The library's message, told here."""
    for form, told in _FORMS:
        match = form.fullmatch(message)
        if match is not None:
            return told(match.groupdict())
    return message
