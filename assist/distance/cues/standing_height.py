"""Distance from the height of somebody who stands upright and is wholly in the picture."""

from __future__ import annotations

import math

import numpy as np

from assist.distance import CueAbsent, CueReading
from assist.distance.observation import Observation
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

NAME = "standing height"
EYE_HEIGHT = 0.936
ANKLE_HEIGHT = 0.039
"""Parts of the stature (Drillis and Contini 1966, in Winter, Biomechanics and Motor Control of
Human Movement; from memory)."""

_STRAIGHT = math.cos(math.radians(25))
_OWN_SD = 0.06
"""Slack of a standing body: bent knees, feet apart, head bowed. Judged on rendered bodies."""

L = Landmark
_NEEDED = [
    L.LEFT_EYE,
    L.RIGHT_EYE,
    L.LEFT_HIP,
    L.RIGHT_HIP,
    L.LEFT_KNEE,
    L.RIGHT_KNEE,
    L.LEFT_ANKLE,
    L.RIGHT_ANKLE,
]


def _middle(points: FloatArray, left: Landmark, right: Landmark) -> FloatArray:
    return np.asarray((points[left] + points[right]) / 2)


def _along(a: FloatArray, b: FloatArray) -> float:
    """Cosine of the angle between two vectors."""
    return float(a @ b) / max(math.sqrt((a @ a) * (b @ b)), 1e-9)


class StandingHeight:
    """Ankles and eyes lie on two rays; the body between them has a known length and direction."""

    name = NAME

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """Solve z_eyes ray_eyes - z_ankles ray_ankles = height x upright in least squares.

        The direction is the detector's, from ankles to eyes, so a tilted camera does no harm.
        """
        if not seen.usable[_NEEDED].all():
            return CueAbsent(NAME, "head or feet are not in view")
        w = seen.body_m
        eyes, hips = _middle(w, L.LEFT_EYE, L.RIGHT_EYE), _middle(w, L.LEFT_HIP, L.RIGHT_HIP)
        ankles = _middle(w, L.LEFT_ANKLE, L.RIGHT_ANKLE)
        legs = [(L.LEFT_HIP, L.LEFT_KNEE, L.LEFT_ANKLE), (L.RIGHT_HIP, L.RIGHT_KNEE, L.RIGHT_ANKLE)]
        bent = min(_along(w[knee] - w[hip], w[ankle] - w[knee]) for hip, knee, ankle in legs)
        if bent < _STRAIGHT or _along(eyes - hips, hips - ankles) < _STRAIGHT:
            return CueAbsent(NAME, "not standing upright")
        span = eyes - ankles
        height_m = (EYE_HEIGHT - ANKLE_HEIGHT) * seen.shape.stature_m
        span = span * (height_m / math.sqrt(span @ span))
        # Least squares for two unknowns by their normal equations.
        one, other = np.ones(3), np.ones(3)
        one[:2] = _middle(seen.rays, L.LEFT_EYE, L.RIGHT_EYE)
        other[:2] = _middle(seen.rays, L.LEFT_ANKLE, L.RIGHT_ANKLE)
        own, mixed, others = float(one @ one), float(one @ other), float(other @ other)
        solvable = own * others - mixed**2
        if solvable < 1e-9 * own * others:
            return CueAbsent(NAME, "the body is seen end-on")
        eyes_m = (others * float(one @ span) - mixed * float(other @ span)) / solvable
        if eyes_m <= 0:
            return CueAbsent(NAME, "the body is seen end-on")
        scale_sd_m = seen.shape.scale_sd * eyes_m
        return CueReading(NAME, eyes_m, math.hypot(_OWN_SD * eyes_m, scale_sd_m), scale_sd_m)
