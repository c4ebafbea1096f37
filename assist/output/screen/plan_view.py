"""The ground in front of the camera as a line: where on it the zone and the person are."""

from __future__ import annotations

import math

from assist.distance import TrackedDistance
from assist.guidance.verdict import NINETY_PERCENT
from optics.lens import DepthOfField


class PlanView:
    """A line from the camera's sensor to well behind the zone; places on it are parts of it.

    near_m, focus_m, far_m: the zone's limits and its sharpest place, from the sensor; far_m may be
    infinite.
    """

    def __init__(self, zone: DepthOfField, focus_m: float, sensor_offset_m: float) -> None:
        self.sensor_offset_m = sensor_offset_m
        self.near_m = float(zone.near_m) + sensor_offset_m
        self.focus_m = focus_m + sensor_offset_m
        self.far_m = float(zone.far_m) + sensor_offset_m
        far_m = self.far_m if math.isfinite(self.far_m) else 2.0 * self.focus_m
        self._span_m = max(1.3 * far_m, 1.5 * self.focus_m)

    def part(self, from_sensor_m: float) -> float:
        """Where that distance lies, from 0 (the sensor) to 1 (the end, and all beyond it)."""
        return min(max(from_sensor_m / self._span_m, 0.0), 1.0)

    def person(self, distance: TrackedDistance) -> tuple[float, float, float]:
        """Where their eyes are: the beginning of the 90 % interval, the estimate, the end."""
        eyes_m = distance.eyes_m + self.sensor_offset_m
        spread_m = NINETY_PERCENT * distance.sd_m
        return self.part(eyes_m - spread_m), self.part(eyes_m), self.part(eyes_m + spread_m)
