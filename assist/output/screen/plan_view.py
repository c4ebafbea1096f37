"""The ground in front of the camera as a line: where on it the zone and the person are."""

from __future__ import annotations

import math

from assist.distance import TrackedDistance
from assist.guidance.verdict import NINETY_PERCENT
from optics.focus_zone import FocusZone


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
        self._span_m = max(1.3 * far_m, 1.5 * self.best_m)

    def part(self, from_sensor_m: float) -> float:
        """Where that distance lies, from 0 (the sensor) to 1 (the end, and all beyond it)."""
        return min(max(from_sensor_m / self._span_m, 0.0), 1.0)

    def person(self, distance: TrackedDistance) -> tuple[float, float, float]:
        """Where their eyes are: the beginning of the 90 % interval, the estimate, the end."""
        eyes_m = self.zone.from_sensor_m(distance.eyes_m)
        spread_m = NINETY_PERCENT * distance.sd_m
        return self.part(eyes_m - spread_m), self.part(eyes_m), self.part(eyes_m + spread_m)
