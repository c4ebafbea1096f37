"""Where to focus so that there is so much room before and behind the person.

Inverses of `optics.lens.depth_of_field` in the focus distance. With h = f^2 / (N c), e = s - f:
room in front r = s e / (h + e), behind r = s e / (h - e), in all T = 2 h s e / (h^2 - e^2). Each is
a quadratic in e with one positive root; each room grows with the distance, so the root is the
nearest distance that will do. Roots are written so that no two near numbers are subtracted.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optics.checks import positive, scalar_back
from optics.lens import depth_parameter_m


def focus_distance_for_room_in_front_m(
    focal_length_m: ArrayLike,
    f_number: ArrayLike,
    room_m: ArrayLike,
    circle_of_confusion_m: ArrayLike,
) -> Any:
    """Nearest focus distance with so much room before it: e^2 - (r - f) e - r h = 0, s = f + e."""
    f, h = depth_parameter_m(focal_length_m, f_number, circle_of_confusion_m)
    r = positive("room in front", room_m)
    root = np.sqrt((r - f) ** 2 + 4.0 * r * h)
    e = np.where(r >= f, (r - f + root) / 2.0, 2.0 * r * h / (f - r + root))
    return scalar_back(f + e)


def focus_distance_for_room_behind_m(
    focal_length_m: ArrayLike,
    f_number: ArrayLike,
    room_m: ArrayLike,
    circle_of_confusion_m: ArrayLike,
) -> Any:
    """Nearest focus distance with so much room behind it: e^2 + (r + f) e - r h = 0, s = f + e."""
    f, h = depth_parameter_m(focal_length_m, f_number, circle_of_confusion_m)
    r = positive("room behind", room_m)
    return scalar_back(f + 2.0 * r * h / (r + f + np.sqrt((r + f) ** 2 + 4.0 * r * h)))


def focus_distance_for_room_in_all_m(
    focal_length_m: ArrayLike,
    f_number: ArrayLike,
    room_m: ArrayLike,
    circle_of_confusion_m: ArrayLike,
) -> Any:
    """Nearest focus distance whose zone is so deep in all.

    (2 h + T) e^2 + 2 h f e - T h^2 = 0, e = h T / (f + sqrt(f^2 + T (2 h + T))), s = f + e.
    """
    f, h = depth_parameter_m(focal_length_m, f_number, circle_of_confusion_m)
    t = positive("room in all", room_m)
    return scalar_back(f + h * t / (f + np.sqrt(f * f + t * (2.0 * h + t))))
