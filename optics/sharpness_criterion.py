"""Where the circle of confusion comes from. It is a choice, and a result names the choice."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optics.checks import positive
from optics.sensor import Sensor

ACUITY_RAD = math.radians(1 / 60)
"""Visual acuity of 1 arc minute, the 20/20 line. Common practice, no source."""


@dataclass(frozen=True)
class SharpnessCriterion:
    """The largest blur disc on the sensor that still counts as sharp, and how it was chosen."""

    circle_of_confusion_m: float
    basis: str

    def __post_init__(self) -> None:
        positive("circle of confusion", self.circle_of_confusion_m)


def from_diagonal(sensor: Sensor, divisor: float = 1500.0) -> SharpnessCriterion:
    """Sensor diagonal over `divisor`. Common practice, no source."""
    positive("divisor", divisor)
    return SharpnessCriterion(sensor.diagonal_m / divisor, f"diagonal/{divisor:g}")


def from_print(
    sensor: Sensor,
    print_width_m: float,
    viewing_distance_m: float,
    acuity_rad: float = ACUITY_RAD,
) -> SharpnessCriterion:
    """Blur that a viewer of given acuity just fails to see in a print of the whole width.

    c = viewing distance x acuity / enlargement, enlargement = print width / sensor width.
    """
    positive("print width", print_width_m)
    positive("viewing distance", viewing_distance_m)
    positive("acuity", acuity_rad)
    enlargement = print_width_m / sensor.width_m
    return SharpnessCriterion(
        viewing_distance_m * math.tan(acuity_rad) / enlargement,
        f"print {print_width_m * 100:g} cm wide seen from {viewing_distance_m * 100:g} cm",
    )


def from_pixels(sensor: Sensor, picture_width_px: int, pixels: float = 2.0) -> SharpnessCriterion:
    """A blur disc of so many pixels of the picture, for judging at 100 %."""
    positive("picture width", picture_width_px)
    positive("pixels", pixels)
    return SharpnessCriterion(
        pixels * sensor.width_m / picture_width_px,
        f"{pixels:g} pixels of {picture_width_px}",
    )


def given(circle_of_confusion_m: float) -> SharpnessCriterion:
    """A circle of confusion stated by the user."""
    return SharpnessCriterion(circle_of_confusion_m, f"given {circle_of_confusion_m * 1e3:g} mm")
