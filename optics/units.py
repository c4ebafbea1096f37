"""Exact unit factors. Source: the foot of 0.3048 m, NIST SP 811, appendix B (from memory)."""

from __future__ import annotations

METRES_PER_FOOT = 0.3048
METRES_PER_INCH = 0.0254
METRES_PER_MILLIMETRE = 1e-3


def metres_to_feet_and_inches(metres: float) -> tuple[int, float]:
    """Whole feet and the inches left, rounded to a tenth of an inch, for reading off a tape.

    >>> metres_to_feet_and_inches(3.2004)
    (10, 6.0)
    """
    tenths = round(abs(metres) / METRES_PER_INCH * 10)
    feet, rest = divmod(tenths, 120)
    return (-feet if metres < 0 else feet), rest / 10
