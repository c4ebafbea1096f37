"""Distance from where the feet stand on the ground, the camera's height and tilt being known.

The only cue that does not depend on the size of the body.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from assist.distance import CueAbsent, CueReading
from assist.distance.observation import Observation
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray, ImpossibleValueError, positive

NAME = "feet on the ground"
L = Landmark
_FEET = np.array(
    [
        [L.LEFT_HEEL, L.LEFT_FOOT_INDEX, L.LEFT_ANKLE],
        [L.RIGHT_HEEL, L.RIGHT_FOOT_INDEX, L.RIGHT_ANKLE],
    ]
)
_HEIGHT_ABOVE_GROUND_M = np.array([0.03, 0.02, 0.075])
"""Of heel, toes and ankle of a foot that stands flat, shoes included. Common practice, no
source."""
_FEET_SD_M = 0.02
_EYES_AGAINST_FEET_M = 0.06
_LIFTED_M = 0.08
_LEAST_BELOW = 0.1


@dataclass(frozen=True)
class CameraPlacement:
    """How a camera stands over level ground.

    height_m: of the lens above the ground the person stands on.
    tilt_rad: downwards from level.   roll_rad: clockwise, as seen from behind the camera.
    height_sd_m, tilt_sd_rad: how well they are known.
    """

    height_m: float
    tilt_rad: float = 0.0
    roll_rad: float = 0.0
    height_sd_m: float = 0.01
    tilt_sd_rad: float = math.radians(0.5)

    def __post_init__(self) -> None:
        positive("camera height", self.height_m)
        for name in ("tilt_rad", "roll_rad"):
            if not abs(getattr(self, name)) < math.pi / 2:
                raise ImpossibleValueError(
                    "{name} must lie within a quarter turn of level", name=name
                )

    @property
    def down(self) -> FloatArray:
        """(3,) unit vector towards the ground in the camera frame."""
        c = math.cos(self.tilt_rad)
        return np.array(
            [c * math.sin(self.roll_rad), c * math.cos(self.roll_rad), math.sin(self.tilt_rad)]
        )


class FeetOnGround:
    """The ray to a foot meets the ground at one depth."""

    name = NAME

    def __init__(self, placement: CameraPlacement) -> None:
        self._placement = placement
        self._down = placement.down

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """Z = (height - height of the landmark) / (ray . down), for the feet that stand."""
        place = self._placement
        whole = seen.usable[_FEET].all(axis=1)
        if not whole.any():
            return CueAbsent(NAME, "the feet are not in view")
        below = seen.rays[_FEET] @ self._down[:2] + self._down[2]
        if not (below[whole] > _LEAST_BELOW).all():
            return CueAbsent(NAME, "the feet are not far enough below the camera")
        depth = ((place.height_m - _HEIGHT_ABOVE_GROUND_M) / np.maximum(below, 1e-9)).mean(axis=1)
        sole = (seen.body_m[_FEET] @ self._down - _HEIGHT_ABOVE_GROUND_M).mean(axis=1)
        # A lifted foot is not on the ground: of two, use the lower by the detector's posture.
        standing = whole & (sole >= sole[whole].max() - _LIFTED_M)
        body_z = seen.body_m[:, 2]
        eyes_z = (body_z[L.LEFT_EYE] + body_z[L.RIGHT_EYE]) / 2
        eyes = depth + eyes_z - body_z[_FEET].mean(axis=1)
        eyes_m = float(eyes[standing].mean())
        if eyes_m <= 0:
            return CueAbsent(NAME, "the ground puts the person behind the camera")
        steep = float(below[standing].mean())
        slope = float(depth[standing].mean()) / steep  # change of depth per radian, per metre
        sd_m = math.hypot(
            math.hypot(_FEET_SD_M, place.height_sd_m) / steep,
            math.hypot(slope * place.tilt_sd_rad * (1 + steep**2), _EYES_AGAINST_FEET_M),
        )
        return CueReading(NAME, eyes_m, sd_m, 0.0)
