"""Optics of a camera on a tripod: pure computation over numbers and arrays.

Conventions, once for the whole package:

- SI units: metres, seconds, radians. A name ends in its unit; `_mm` and `_deg` only at the edges.
- The f-number is `f_number`, the circle of confusion `circle_of_confusion_m`.
- Distances are positive, forwards from the camera. Unless a name says `sensor_distance`, a distance
  starts at the lens's thin-lens plane, taken to be its entrance pupil too. `optics.lens` converts.
- The camera frame is OpenCV's: x right, y down, z along the optical axis.
- Pixel coordinates start at the outer edge of the first pixel: the centre of a picture of width W
  lies at W / 2, and the centre of its first pixel at 0.5.
- A function takes scalars or arrays, broadcasts them, and gives a scalar back for scalars.
- Impossible input raises `optics.checks.ImpossibleValueError`, naming the argument. Infinity is an
  ordinary value of a distance.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optics.camera import PinholeCamera
    from optics.errors import ImpossibleValueError
    from optics.exposure import stops_between
    from optics.focus_zone import FocusZone, ZoneProbabilities
    from optics.lens import (
        DepthOfField,
        blur_diameter_m,
        depth_of_field,
        f_number_for_blur,
        f_number_for_limits,
        focus_distance_for_limits_m,
        hyperfocal_m,
    )

_WHERE = {
    "DepthOfField": "lens",
    "FocusZone": "focus_zone",
    "ImpossibleValueError": "errors",
    "PinholeCamera": "camera",
    "ZoneProbabilities": "focus_zone",
    "blur_diameter_m": "lens",
    "depth_of_field": "lens",
    "f_number_for_blur": "lens",
    "f_number_for_limits": "lens",
    "focus_distance_for_limits_m": "lens",
    "hyperfocal_m": "lens",
    "stops_between": "exposure",
}

__all__ = [
    "DepthOfField",
    "FocusZone",
    "ImpossibleValueError",
    "PinholeCamera",
    "ZoneProbabilities",
    "blur_diameter_m",
    "depth_of_field",
    "f_number_for_blur",
    "f_number_for_limits",
    "focus_distance_for_limits_m",
    "hyperfocal_m",
    "stops_between",
]


def __getattr__(name: str) -> Any:
    """Loaded where first used: whoever wants the length of a foot need not wait for NumPy."""
    if name not in _WHERE:
        raise AttributeError(f"module 'optics' has no attribute {name!r}")
    return getattr(importlib.import_module(f"optics.{_WHERE[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
