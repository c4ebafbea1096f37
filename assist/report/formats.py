"""Numbers of a report, with the language's decimal mark; lengths are in metres."""

from __future__ import annotations

import math

from assist.base.words import _, current
from assist.guidance.verdict import NINETY_PERCENT


def number(figure: str) -> str:
    """A figure written with a point, as the language writes it."""
    return current().decimal(figure)


def metres(value: float) -> str:
    """A distance in words."""
    return number(f"{value:.2f} m") if math.isfinite(value) else _("infinity")


def signed(value_m: float | None) -> str:
    """How far behind the mark, in metres without their sign; empty where it is not known."""
    return "" if value_m is None else number(f"{value_m:+.2f}")


def plain(value_m: float | None) -> str:
    """A distance in metres without their sign; empty where it is not known."""
    return "" if value_m is None else number(f"{value_m:.2f}")


def spread(sd_m: float | None) -> str:
    """Half of the interval that holds nine in ten; empty where it is not known."""
    return "" if sd_m is None else plain(NINETY_PERCENT * sd_m)
