"""The ground in front of the camera as a line: where on it the zone and the person are.

A deep zone is shown to scale. One that would be too thin to be seen, a few centimetres metres away,
is enlarged together with the ground just before and behind it, where the last steps are made.
"""

from __future__ import annotations

import math
from bisect import bisect_right

from assist.distance import TrackedDistance
from assist.guidance.verdict import NINETY_PERCENT
from optics.focus_zone import FocusZone

_THIN, _ENLARGED = 0.1, 0.2
"""A zone that would have less than the first part of the line gets the second."""
_BEFORE, _AFTER = 0.26, 0.14
"""What is left for the ground in front of the enlarged part and behind it."""


class PlanView:
    """A line from the camera's sensor to well behind the zone; places on it are parts of it.

    zone: whose limits and sharpest place it shows.
    near_m, best_m, far_m: these, from the sensor; far_m may be infinite.
    """

    def __init__(self, zone: FocusZone) -> None:
        self.zone = zone
        self.near_m = zone.near_from_sensor_m
        self.best_m = zone.best_from_sensor_m
        self.far_m = zone.far_from_sensor_m
        far_m = self.far_m if math.isfinite(self.far_m) else 2.0 * self.best_m
        span_m = max(1.3 * far_m, 1.5 * self.best_m)
        self._places_m, self._parts = [0.0, span_m], [0.0, 1.0]
        depth_m = far_m - self.near_m
        if depth_m < _THIN * span_m:
            margin_m = depth_m * ((1 - _BEFORE - _AFTER) / _ENLARGED - 1) / 2
            self._places_m[1:1] = [self.near_m - margin_m, far_m + margin_m]
            self._parts[1:1] = [_BEFORE, 1 - _AFTER]

    def part(self, from_sensor_m: float) -> float:
        """Where that distance lies, from 0 (the sensor) to 1 (the end, and all beyond it)."""
        places_m, parts = self._places_m, self._parts
        last = min(max(bisect_right(places_m, from_sensor_m), 1), len(places_m) - 1)
        along = (from_sensor_m - places_m[last - 1]) / (places_m[last] - places_m[last - 1])
        return min(max(parts[last - 1] + along * (parts[last] - parts[last - 1]), 0.0), 1.0)

    def person(self, distance: TrackedDistance) -> tuple[float, float, float]:
        """Where their eyes are: the beginning of the 90 % interval, the estimate, the end."""
        eyes_m = self.zone.from_sensor_m(distance.eyes_m)
        spread_m = NINETY_PERCENT * distance.sd_m
        return self.part(eyes_m - spread_m), self.part(eyes_m), self.part(eyes_m + spread_m)
