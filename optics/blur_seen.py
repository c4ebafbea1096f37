"""A blur disc as it is seen: on the sensor, across the picture, in pixels."""

from __future__ import annotations

from dataclasses import dataclass

from optics import lens
from optics.checks import positive


@dataclass(frozen=True)
class BlurSeen:
    """The disc that a point at `distance_m` from the lens makes.

    diameter_m: on the sensor.   share_of_width: of the picture's width as the camera is held.
    pixels: of the picture, None when its size is not known.
    """

    distance_m: float
    diameter_m: float
    share_of_width: float
    pixels: float | None


def blur_seen(
    focal_length_m: float,
    f_number: float,
    focus_distance_m: float,
    distance_m: float,
    frame_width_m: float,
    frame_width_px: int | None = None,
) -> BlurSeen:
    """How soft a point at a distance is; the distance may be infinite.

    frame_width_m, frame_width_px: of the sensor and picture, as the camera is held.
    """
    width = float(positive("frame width", frame_width_m))
    diameter = float(lens.blur_diameter_m(focal_length_m, f_number, focus_distance_m, distance_m))
    share = diameter / width
    return BlurSeen(
        distance_m, diameter, share, None if frame_width_px is None else share * frame_width_px
    )
