"""Which setting of a zoom a shot size asks for, from a place that is given."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scipy.optimize import brentq

from assist.base import terms
from assist.base.errors import UserError
from assist.base.words import _
from assist.plan.formats import LengthFormat
from assist.plan.lens_owned import LensOwned
from assist.plan.planning import wanted_of
from assist.setup import set_up as set_ups
from optics import framing, lens


@dataclass(frozen=True)
class ZoomFound:
    """A setting of a zoom, and what it is, as in "the zoom is set to ..."."""

    focal_length_mm: float
    reason: str


def zoom_for(
    values: Mapping[str, Any],
    zoom: LensOwned,
    what: str,
    names: Mapping[str, str],
    show: LengthFormat,
) -> ZoomFound:
    """The longest focal length of the zoom at which the shot size fits, whole millimetres.

    values: of a set-up, with aperture, focus distance and shot size, without a focal length.
    Raises UserError where another value is wrong, or where it does not fit at the shortest setting.
    """
    shortest, longest = zoom.focal_lengths_mm[0], zoom.focal_lengths_mm[-1]
    checked = {part: fields for part, fields in values.items() if part != "place"}
    checked["lens"] = {**values["lens"], "focal_length_mm": shortest}
    set_up = set_ups.from_values(checked, what, names)
    size = framing.shot_size(set_up.framing.shot_size or "")
    wanted, focus_m = wanted_of(set_up, size), set_up.lens.focus_distance_m

    def needs_m(focal_length_mm: float) -> float:
        f = focal_length_mm / 1000.0
        fits_m = float(framing.focus_distance_to_fit_m(wanted, f))
        return fits_m if math.isinf(fits_m) else float(lens.lens_to_sensor_distance_m(f, fits_m))

    at_shortest_m, name = needs_m(shortest), terms.told(size.name)
    if at_shortest_m > focus_m:
        if math.isinf(at_shortest_m):
            raise UserError(
                _(
                    "--framing: {shot_size} fits from nowhere with this camera height and tilt: "
                    "leave one out, --camera-height or --tilt",
                    shot_size=name,
                )
            )
        raise UserError(
            _(
                "--focus {distance}: {shot_size} needs {needed} even at {focal_length:g} mm: stand "
                "farther away, or name a tighter --framing",
                distance=show.length(focus_m),
                shot_size=name,
                needed=show.length(show.rounded_up_m(at_shortest_m)),
                focal_length=shortest,
            )
        )
    if needs_m(longest) <= focus_m:
        return ZoomFound(
            longest, _("its longest; {shot_size} fits with room to spare", shot_size=name)
        )
    just = brentq(lambda mm: needs_m(mm) - focus_m, shortest, longest, xtol=1e-6)
    setting = max(shortest, float(math.floor(just)))
    return ZoomFound(
        setting, _("the longest that holds {shot_size} from this distance", shot_size=name)
    )
