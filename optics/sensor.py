"""Sensor formats by their trade names and sizes, and any other width by height."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from optics.checks import positive
from optics.errors import ImpossibleValueError
from optics.units import METRES_PER_MILLIMETRE

_ASPECT_TOLERANCE = 0.02


@dataclass(frozen=True)
class Sensor:
    """The light-sensitive area of the taking camera, held in landscape orientation."""

    width_m: float
    height_m: float

    def __post_init__(self) -> None:
        positive("sensor width", self.width_m)
        positive("sensor height", self.height_m)

    @classmethod
    def from_mm(cls, width_mm: float, height_mm: float) -> Sensor:
        """A sensor from its sides in millimetres."""
        return cls(width_mm * METRES_PER_MILLIMETRE, height_mm * METRES_PER_MILLIMETRE)

    @property
    def diagonal_m(self) -> float:
        """Diagonal, metres."""
        return math.hypot(self.width_m, self.height_m)

    @property
    def aspect(self) -> float:
        """Width over height."""
        return self.width_m / self.height_m

    @property
    def crop_factor(self) -> float:
        """Diagonal of a 36 x 24 mm frame over this one's: 1 for full frame, about 1.5 for APS-C."""
        return FORMATS["full-frame"].diagonal_m / self.diagonal_m

    def shown_side(self, width_px: float, height_px: float) -> tuple[str, float]:
        """Which side of a picture shows a whole side of the sensor, `width` or `height`; metres.

        A picture is cut from the sensor as wide as can be: one that is wider shows the whole width,
        one that is narrower (4:3 from a 3:2 sensor) the whole height. An upright picture comes from
        a camera held upright.
        """
        positive("picture width", width_px)
        positive("picture height", height_px)
        wide, tall = max(self.width_m, self.height_m), min(self.width_m, self.height_m)
        if width_px < height_px:
            wide, tall = tall, wide
        if width_px / height_px >= wide / tall * (1 - _ASPECT_TOLERANCE):
            return "width", wide
        return "height", tall

    def pixel_pitch_m(self, width_px: float, height_px: float) -> float:
        """Size on the sensor of a pixel of such a picture (`shown_side`), metres."""
        along, length_m = self.shown_side(width_px, height_px)
        return length_m / (width_px if along == "width" else height_px)


# Nominal sizes; makers differ by a few tenths of a millimetre. Common practice, no source.
FORMATS: dict[str, Sensor] = {
    "full-frame": Sensor.from_mm(36.0, 24.0),
    "aps-c-1.5": Sensor.from_mm(23.6, 15.7),
    "aps-c-1.6": Sensor.from_mm(22.3, 14.9),
    "four-thirds": Sensor.from_mm(17.3, 13.0),
    "one-inch": Sensor.from_mm(13.2, 8.8),
}

_SIZE = re.compile(r"^\s*([0-9.]+)\s*(?:mm)?\s*[x×*]\s*([0-9.]+)\s*(?:mm)?\s*$", re.IGNORECASE)


def sensor_from_name(text: str) -> Sensor:
    """A format by name (`full-frame`) or by size (`36x24`, `23.6 x 15.7 mm`).

    >>> sensor_from_name("36x24 mm") == sensor_from_name("full-frame")
    True
    """
    known = FORMATS.get(text.strip().lower().replace(" ", "-"))
    if known is not None:
        return known
    size = _SIZE.match(text)
    if size:
        try:
            return Sensor.from_mm(float(size[1]), float(size[2]))
        except ValueError as error:
            raise ImpossibleValueError(
                "sensor {name!r}: {problem}", name=text, problem=error
            ) from error
    raise ImpossibleValueError(
        "sensor {name!r} is not known: use {formats}, or a size such as 36x24 (mm)",
        name=text,
        formats=", ".join(FORMATS),
    )
