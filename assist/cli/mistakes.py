"""What the library of the command line says of a mistake, in the language that holds here.

It speaks English alone; its sentences are few, and told by their form. One that is not known stays
as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from difflib import get_close_matches

from typer.exceptions import TyperException

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


_ALIKE = 0.7
"""As much alike, from 0 to 1, must an option be that is offered for a mistyped one."""

_OTHER_NAMES = {
    "light": ("ev", "metered"),
    "focal-length": ("lens",),
    "f-number": ("aperture",),
    "f-stop": ("aperture",),
    "distance": ("focus",),
    "focus-distance": ("focus",),
    "height": ("stature",),
    "body-height": ("stature",),
    "shot": ("framing",),
    "shot-size": ("framing",),
    "iso": ("iso-max",),
    "angle-of-view": ("field-of-view",),
    "fov": ("field-of-view",),
    "self-timer": ("timer",),
    "delay": ("timer", "feed-delay"),
    "setup": ("set-up",),
    "name": ("session",),
    "mute": ("no-sound",),
    "silent": ("no-sound",),
    "voice": ("speech",),
    "lang": ("language",),
    "phone": ("share",),
}
"""Words that photographers look for an option under, and the options."""


def told(error: TyperException) -> str:
    """What is wrong, in one line; of an option that is not known, which one may have been meant."""
    wrong = getattr(error, "option_name", None)
    context = getattr(error, "ctx", None)
    if wrong is None or context is None or not hasattr(error, "possibilities"):
        return in_words(error.format_message())
    known = {
        name.lstrip("-"): name
        for option in context.command.params
        for name in (*option.opts, *option.secondary_opts)
        if name.startswith("--")
    }
    meant = _meant(wrong.lstrip("-"), known)
    if not meant:
        return _("No such option: {name}", name=wrong)
    return _(
        "No such option: {name} (Possible options: {known})",
        name=wrong,
        known=", ".join(known[name] for name in meant),
    )


def _meant(wrong: str, known: Mapping[str, str]) -> list[str]:
    """Names of the options that may be meant, the likeliest first."""
    names = get_close_matches(wrong, [*known, *_OTHER_NAMES], n=4, cutoff=_ALIKE)
    found = [name for one in names for name in ((one,) if one in known else _OTHER_NAMES[one])]
    begun = [name for name in known if len(wrong) > 1 and name.startswith(wrong)]
    return [name for name in dict.fromkeys((*begun, *found)) if name in known][:4]


def in_words(message: str) -> str:
    """The library's message, told here."""
    for form, told in _FORMS:
        match = form.fullmatch(message)
        if match is not None:
            return told(match.groupdict())
    return message
