"""Where to tape marks on the ground, for a tape laid on it or stretched from the camera.

Level ground. The tape on the ground starts right under the sensor plane mark; the stretched tape
starts at the mark itself, at its height, and runs down to the ground.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optics.checks import above, positive, quantity, scalar_back
from optics.errors import ImpossibleValueError


def slant_m(along_ground_m: ArrayLike, camera_height_m: ArrayLike) -> Any:
    """From the sensor mark straight to a ground mark: sqrt(d^2 + h^2). d may be infinite."""
    d = positive("distance along the ground", along_ground_m, infinity=True)
    return scalar_back(np.hypot(d, positive("camera height", camera_height_m)))


def along_ground_m(slant: ArrayLike, camera_height_m: ArrayLike) -> Any:
    """Along the ground to the mark at the end of a stretched tape: sqrt(r^2 - h^2).

    Raises ImpossibleValueError when the tape does not reach the ground.
    """
    h = positive("camera height", camera_height_m)
    r = above("length of the tape", slant, h, quantity("the camera height"), infinity=True)
    if np.any(np.isinf(h)):
        raise ImpossibleValueError("camera height must be finite")
    return scalar_back(np.where(np.isinf(r), np.inf, np.sqrt(r - h) * np.sqrt(r + h)))
