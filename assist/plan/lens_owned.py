"""A lens as its owner describes it: `50mm`, `50mm f/1.8`, `24-70mm f/2.8-22 from 0.38m`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from assist.base.errors import UserError
from assist.base.units import parse_f_number, parse_focal_length_mm, parse_length_m
from assist.base.words import N_, _

FORMS = N_(
    '50mm, "50mm f/1.8", "24-70mm f/2.8-f/22" or "50mm f/1.8 from 0.45m" (its nearest focus)'
)

MARKED_MM = (14, 16, 18, 20, 24, 28, 35, 40, 50, 60, 70, 85, 105, 135, 180, 200, 300, 400)
"""Focal lengths tried on a zoom, besides its ends. Common practice, no source."""

_LENS = re.compile(
    r"""^\s*(?P<short>[\d.,]+)\s*(?:mm)?
    (?:\s*-\s*(?P<long>[\d.,]+)\s*(?:mm)?)?
    (?:\s*[\s:]\s*(?P<widest>f\s*/?\s*[\d.,]+)
       (?:\s*-\s*(?P<narrowest>(?:f\s*/?\s*)?[\d.,]+))?)?
    (?:\s*[\s:]\s*from\s+(?P<nearest>.+?))?\s*$""",
    re.IGNORECASE | re.VERBOSE,
)


@dataclass(frozen=True)
class LensOwned:
    """A lens in the bag. What its owner did not say is None.

    focal_lengths_mm: one for a prime; the ends and the marks between them for a zoom.
    minimum_focus_m: from the sensor plane.
    """

    name: str
    focal_lengths_mm: tuple[float, ...]
    widest_f_number: float | None = None
    narrowest_f_number: float | None = None
    minimum_focus_m: float | None = None

    @property
    def is_zoom(self) -> bool:
        """Whether its focal length can be chosen."""
        return len(self.focal_lengths_mm) > 1


def lens_owned(text: str) -> LensOwned:
    """The lens that a user described; UserError naming the accepted forms."""
    match = _LENS.match(text)
    if not match:
        raise UserError(_("--lens: write it as {forms}, not {value!r}", forms=_(FORMS), value=text))
    try:
        short = parse_focal_length_mm(match["short"])
        long = parse_focal_length_mm(match["long"]) if match["long"] else short
        widest = parse_f_number(match["widest"]) if match["widest"] else None
        narrowest = parse_f_number(match["narrowest"]) if match["narrowest"] else None
        nearest = parse_length_m(match["nearest"]) if match["nearest"] else None
    except ValueError as error:
        raise UserError(
            _(
                "--lens {value!r}: {problem}; write it as {forms}",
                value=text,
                problem=error,
                forms=_(FORMS),
            )
        ) from error
    for what, number in (
        (_("focal length"), short),
        (_("aperture"), widest),
        (_("nearest focus"), nearest),
    ):
        if number is not None and number <= 0:
            raise UserError(
                _(
                    "--lens {value!r}: {what} must be above zero; write it as {forms}",
                    value=text,
                    what=what,
                    forms=_(FORMS),
                )
            )
    if long < short:
        raise UserError(
            _("--lens {value!r}: a zoom runs from its shortest to its longest", value=text)
        )
    if widest is not None and narrowest is not None and narrowest < widest:
        raise UserError(
            _("--lens {value!r}: apertures run from the smaller f-number to the larger", value=text)
        )
    focal_lengths = sorted({short, long, *(float(x) for x in MARKED_MM if short < x < long)})
    return LensOwned(text.strip(), tuple(focal_lengths), widest, narrowest, nearest)
