"""The focus distance that a shot size asks for, where nobody gave one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assist.base import terms
from assist.base.errors import UserError
from assist.base.words import _
from assist.plan.formats import LengthFormat
from assist.plan.planning import wanted_of
from assist.setup import set_up as set_ups
from optics import framing, lens

_FAR_M = 1000.0
"""Where any lens can be focused: a set-up needs some distance to be checked."""


@dataclass(frozen=True)
class FocusFound:
    """A focus distance from the sensor plane, and what it is, as in "the focus distance is ..."."""

    focus_distance_m: float
    reason: str


def focus_for(
    values: Mapping[str, Any], what: str, names: Mapping[str, str], show: LengthFormat
) -> FocusFound:
    """The nearest distance at which the shot size fits, or else at which the lens focuses.

    values: of a set-up, with focal length, aperture and shot size, without a focus distance. Raises
    UserError where another value is wrong, or where the shot size fits from nowhere.
    """
    # The place is left out: its background need not be so far away.
    checked = {part: fields for part, fields in values.items() if part != "place"}
    checked["lens"] = {**values["lens"], "focus_distance_m": _FAR_M}
    set_up = set_ups.from_values(checked, what, names)
    size = framing.shot_size(set_up.framing.shot_size or "")
    name, f = terms.told(size.name), set_up.focal_length_m
    fits_m = float(framing.focus_distance_to_fit_m(wanted_of(set_up, size), f))
    if math.isinf(fits_m):
        raise UserError(
            _(
                "--framing: {shot_size} fits from nowhere with this camera height and tilt: leave "
                "one out, --camera-height or --tilt",
                shot_size=name,
            )
        )
    distance_m = show.rounded_up_m(float(lens.lens_to_sensor_distance_m(f, fits_m)))
    nearest_m = max(4 * f, set_up.lens.minimum_focus_distance_m or 0.0)
    if distance_m < nearest_m:
        reason = _("the lens's nearest ({shot_size} would fit nearer)", shot_size=name)
        return FocusFound(nearest_m, reason)
    return FocusFound(distance_m, _("the one that {shot_size} asks for", shot_size=name))
