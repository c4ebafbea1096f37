"""Blur from a subject that moves while the shutter is open."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from numpy.typing import ArrayLike

from optics import lens
from optics.checks import positive, scalar_back


@dataclass(frozen=True)
class Movement:
    """A way of moving, and its speed across the picture.

    usual_s: the longest shutter time that is usual for it where there is light enough, infinite
    where the speed alone decides.
    """

    name: str
    speed_m_s: float
    usual_s: float = math.inf


STANDING = Movement("standing", 0.03, 1 / 125)
"""Standing still and breathing: the head sways at about 1 cm/s and peaks at some times that; faces
move faster now and then, so portraits are taken at 1/125 s or faster. Common practice, no
source."""

GESTURE = Movement("gesture", 0.5)
"""A turn of the head or a lifted hand, unhurried. Common practice, no source."""

WALKING = Movement("walking", 1.3)
"""Comfortable steady walk: 0.94 to 1.43 m/s on average, by age and sex (Bohannon and Andrews 2011,
Physiotherapy 97:182; abstract looked up). Arms and legs swing faster than the body."""

MOVEMENTS = (STANDING, GESTURE, WALKING)


def motion_blur_m(
    speed_m_s: ArrayLike,
    shutter_s: ArrayLike,
    focal_length_m: ArrayLike,
    focus_distance_m: ArrayLike,
    distance_m: ArrayLike,
) -> Any:
    """Length on the sensor of the streak made by a point at z that moves across: speed t v / z.

    v is the image distance of the focused lens, so v / z is the magnification at the subject's own
    depth.
    """
    speed = positive("speed", speed_m_s)
    time = positive("shutter time", shutter_s)
    z = positive("distance", distance_m)
    return scalar_back(speed * time * lens.image_distance_m(focal_length_m, focus_distance_m) / z)


def longest_shutter_s(
    speed_m_s: ArrayLike,
    blur_m: ArrayLike,
    focal_length_m: ArrayLike,
    focus_distance_m: ArrayLike,
    distance_m: ArrayLike,
) -> Any:
    """Longest shutter time that keeps the streak within `blur_m`; inverts `motion_blur_m`."""
    speed = positive("speed", speed_m_s)
    blur = positive("blur", blur_m)
    z = positive("distance", distance_m)
    return scalar_back(blur * z / (speed * lens.image_distance_m(focal_length_m, focus_distance_m)))
