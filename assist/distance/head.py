"""The head as a rigid body: where eyes, ears and nose sit in it, and which way it points."""

from __future__ import annotations

import math

import numpy as np

from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

HEAD_LANDMARKS = np.array(
    [
        Landmark.NOSE,
        Landmark.LEFT_EYE,
        Landmark.RIGHT_EYE,
        Landmark.LEFT_EAR,
        Landmark.RIGHT_EAR,
    ]
)

PUPIL_DISTANCE_M = 0.062
"""Mean of adults (Dodgson 2004, SPIE 5291; from memory); about 0.0036 m standard deviation."""

HEAD_POINTS_M = np.array(
    [
        [0.0, 0.012, 0.100],
        [PUPIL_DISTANCE_M / 2, -0.019, 0.080],
        [-PUPIL_DISTANCE_M / 2, -0.019, 0.080],
        [0.058, 0.0, 0.0],
        [-0.058, 0.0, 0.0],
    ]
)
"""(5, 3) HEAD_LANDMARKS of an adult's head from the middle of the ears: to the person's left, down,
forwards; metres. The pupils' distance is Dodgson's; the rest is common practice, no source."""

_NOSE_BELOW_RAD = math.atan2(HEAD_POINTS_M[0, 1], HEAD_POINTS_M[0, 2])


def head_axes(world_m: FloatArray) -> FloatArray:
    """Rows left, down, forwards (3, 3): unit vectors of the head in the frame of `world_m`.

    Taken from the ears and the nose of a detector's metric landmarks (33, 3), whose shape of a head
    is not to be trusted, but whose direction is the best there is. Falls back to a head that looks
    along -z when the landmarks coincide.
    """
    ears = (world_m[Landmark.LEFT_EAR] + world_m[Landmark.RIGHT_EAR]) / 2
    left = world_m[Landmark.LEFT_EAR] - world_m[Landmark.RIGHT_EAR]
    nose = world_m[Landmark.NOSE] - ears
    left_length = math.sqrt(left @ left)
    if left_length < 1e-6:
        return np.diag([1.0, 1.0, -1.0])
    left = left / left_length
    nose = nose - (nose @ left) * left
    nose_length = math.sqrt(nose @ nose)
    if nose_length < 1e-6:
        return np.diag([1.0, 1.0, -1.0])
    nose = nose / nose_length
    below = np.array(
        [
            left[1] * nose[2] - left[2] * nose[1],
            left[2] * nose[0] - left[0] * nose[2],
            left[0] * nose[1] - left[1] * nose[0],
        ]
    )  # left x nose: at right angles to the nose, downwards
    c, s = math.cos(_NOSE_BELOW_RAD), math.sin(_NOSE_BELOW_RAD)
    return np.stack([left, c * below + s * nose, c * nose - s * below])
