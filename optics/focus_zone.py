"""The focus zone of one focused lens: its limits, its sharpest place, and where distances start.

Two people measure the same place differently: thin-lens formulas start at the lens, a tape starts
at the sensor plane mark on the camera. The zone knows both, so that nobody adds the offset by hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from optics import lens
from optics.errors import ImpossibleValueError


class ZoneProbabilities(NamedTuple):
    """Probabilities of standing in front of, within and behind the zone; they add up to 1."""

    before: float
    within: float
    behind: float


@dataclass(frozen=True, slots=True)
class FocusZone:
    """Where things are acceptably sharp, along the optical axis.

    near_m, best_m, far_m: nearest sharp distance, plane of sharpest focus, farthest sharp distance;
        metres from the lens; far_m is infinite from the hyperfocal distance on.
    sensor_offset_m: what to add to a distance from the lens to have it from the sensor plane. The
        lens stays where it was focused, so the offset is the same for every distance.
    """

    near_m: float
    best_m: float
    far_m: float
    sensor_offset_m: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.near_m <= self.best_m <= self.far_m:
            raise ImpossibleValueError(
                "a focus zone's limits must enclose its plane of focus in front of the lens, not "
                "{near_m:.6g}, {best_m:.6g}, {far_m:.6g} m",
                near_m=self.near_m,
                best_m=self.best_m,
                far_m=self.far_m,
            )
        if not 0 <= self.sensor_offset_m < math.inf:
            raise ImpossibleValueError(
                "the sensor must lie behind the lens, not {offset_m:.6g} m behind it",
                offset_m=self.sensor_offset_m,
            )

    @classmethod
    def of(
        cls,
        focal_length_m: float,
        f_number: float,
        sensor_distance_m: float,
        circle_of_confusion_m: float,
    ) -> FocusZone:
        """The zone of a lens focused at a distance from the sensor plane, metres.

        Raises ImpossibleValueError for a distance under four focal lengths, or a value that is not
        positive. Formulas: `optics.lens.depth_of_field`.
        """
        best_m = float(lens.sensor_to_lens_distance_m(focal_length_m, sensor_distance_m))
        limits = lens.depth_of_field(focal_length_m, f_number, best_m, circle_of_confusion_m)
        # Focused at infinity, the sensor lies one focal length behind the lens.
        offset_m = focal_length_m if math.isinf(best_m) else sensor_distance_m - best_m
        return cls(float(limits.near_m), best_m, float(limits.far_m), offset_m)

    def from_sensor_m(self, lens_distance_m: float) -> float:
        """A distance from the lens, told from the sensor plane; metres."""
        return lens_distance_m + self.sensor_offset_m

    def from_lens_m(self, sensor_distance_m: float) -> float:
        """A distance from the sensor plane, told from the lens; metres."""
        return sensor_distance_m - self.sensor_offset_m

    @property
    def near_from_sensor_m(self) -> float:
        """Near limit from the sensor plane, metres."""
        return self.from_sensor_m(self.near_m)

    @property
    def best_from_sensor_m(self) -> float:
        """Plane of sharpest focus from the sensor plane, metres: the focus distance as set."""
        return self.from_sensor_m(self.best_m)

    @property
    def far_from_sensor_m(self) -> float:
        """Far limit from the sensor plane, metres; may be infinite."""
        return self.from_sensor_m(self.far_m)

    @property
    def in_front_m(self) -> float:
        """Room from the near limit to the plane of focus, metres."""
        return self.best_m - self.near_m

    @property
    def behind_m(self) -> float:
        """Room from the plane of focus to the far limit, metres; may be infinite."""
        return math.inf if math.isinf(self.far_m) else self.far_m - self.best_m

    def behind_best_m(self, lens_distance_m: float) -> float:
        """How far behind the plane of focus a place lies, metres; negative in front of it."""
        return lens_distance_m - self.best_m

    def holds(self, lens_distance_m: float) -> bool:
        """Whether a place, metres from the lens, is acceptably sharp."""
        return self.near_m <= lens_distance_m <= self.far_m

    def probabilities(self, lens_distance_m: float, sd_m: float) -> ZoneProbabilities:
        """Of standing before, within and behind the zone, the error being normal.

        lens_distance_m: the estimate, metres from the lens.   sd_m: its standard deviation, > 0.
        """
        before = normal_cdf((self.near_m - lens_distance_m) / sd_m)
        behind = (
            0.0 if math.isinf(self.far_m) else normal_cdf((lens_distance_m - self.far_m) / sd_m)
        )
        return ZoneProbabilities(before, max(0.0, 1.0 - before - behind), behind)


def normal_cdf(x: float) -> float:
    """Standard normal distribution function."""
    return 0.5 * math.erfc(-x / math.sqrt(2))
