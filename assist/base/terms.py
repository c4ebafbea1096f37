"""Terms that files and `optics` hold in English, told in the language that holds.

A record, a review and a plan's JSON say "in focus", "knees-up" or "diagonal/1500" whatever the
photographer's language; what is shown of them goes through here.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from assist.base.words import N_, _, _p, current

_TERMS = frozenset(
    {
        # Verdicts while watching.
        N_("in focus"), N_("too near"), N_("too far"), N_("not sure"), N_("no one in view"),
        # Verdicts on a picture, short ones too, and causes of blur.
        N_("sharp"), N_("acceptable at this print size"), N_("acceptable"), N_("soft"),
        N_("focus in front of the eyes"), N_("focus behind the eyes"), N_("out of focus"),
        N_("you moved"), N_("the camera moved"), N_("movement, yours or the camera's"),
        N_("not to be told from the picture"),
        # Shot sizes and how a camera is held.
        N_("full body"), N_("knees-up"), N_("waist-up"), N_("chest-up"), N_("head and shoulders"),
        N_("landscape"), N_("portrait"),
        # Movements.
        N_("standing"), N_("gesture"), N_("walking"),
        # Places along the axis.
        N_("near limit"), N_("mark"), N_("far limit"), N_("background"), N_("infinity"),
    }
)  # fmt: skip


def told(term: str) -> str:
    """A term in the language that holds; any other text as it is."""
    return _(term) if term in _TERMS else term


def body_part(name: str) -> str:
    """A part of the body that an edge of the picture cut off."""
    names: dict[str, Callable[[], str]] = {
        "head": lambda: _p("body part", "head"),
        "hand": lambda: _p("body part", "hand"),
        "feet": lambda: _p("body part", "feet"),
    }
    return names[name]() if name in names else name


_DIAGONAL = re.compile(r"diagonal/(\S+)")
_PRINT = re.compile(r"print (\S+) cm wide seen from (\S+) cm")
_PRINT_AS_TYPED = re.compile(r"print (\S+) cm from (\S+) cm")
_PRINT_SIZE = re.compile(r"(\S+) cm wide seen from (\S+) cm")
_PIXELS = re.compile(r"(\S+) pixels of (\d+)")
_GIVEN = re.compile(r"given (\S+) mm")


def criterion(basis: str) -> str:
    """Where a circle of confusion comes from: `optics.SharpnessCriterion.basis`."""
    n = current().decimal
    if found := _DIAGONAL.fullmatch(basis):
        return _("diagonal/{divisor}", divisor=n(found[1]))
    if found := _PRINT.fullmatch(basis):
        return _(
            "print {width} cm wide seen from {distance} cm", width=n(found[1]), distance=n(found[2])
        )
    if found := _PRINT_AS_TYPED.fullmatch(basis):
        return _("print {width} cm from {distance} cm", width=n(found[1]), distance=n(found[2]))
    if found := _PIXELS.fullmatch(basis):
        return _("{pixels} pixels of {width}", pixels=n(found[1]), width=found[2])
    if found := _GIVEN.fullmatch(basis):
        return _("given {diameter} mm", diameter=n(found[1]))
    return basis


def print_size(size: str) -> str:
    """The size of a print and where it is seen from, as a review keeps it."""
    if found := _PRINT_SIZE.fullmatch(size):
        n = current().decimal
        return _("{width} cm wide seen from {distance} cm", width=n(found[1]), distance=n(found[2]))
    return size
