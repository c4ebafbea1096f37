"""From one pose to where the body is, with an honest uncertainty."""

from __future__ import annotations

import math

import numpy as np

from assist.body import Person
from assist.distance import BodyDistance, CueAbsent, CueReading, rigid_fit
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.camera import PinholeCamera

_FLOOR = 0.03
"""Relative error of the pose network that no averaging over frames removes."""
_EYES_AGAINST_HIPS_M = 0.05
"""The depth of the head relative to the hips is the detector's weakest part."""


class DistanceEngine:
    """Measures one known person through one known camera, picture by picture."""

    def __init__(self, camera: PinholeCamera, person: Person) -> None:
        self._camera = camera
        self._person = person

    def measure(self, pose: Pose) -> BodyDistance | CueAbsent:
        """Depth of eyes and hips, or why there is none."""
        placed = rigid_fit.fit(pose, self._camera, self._person.likely_stature_m)
        if isinstance(placed, CueAbsent):
            return placed
        z = placed.landmarks_m[:, 2]
        hips_m = float(z[Landmark.LEFT_HIP] + z[Landmark.RIGHT_HIP]) / 2
        eyes_m = float(z[Landmark.LEFT_EYE] + z[Landmark.RIGHT_EYE]) / 2
        if min(hips_m, eyes_m) <= 0:
            return CueAbsent(rigid_fit.NAME, "the fit puts the person behind the camera")
        relative = math.sqrt(
            _FLOOR**2 + placed.relative_formal_sd**2 + self._person.relative_stature_sd**2
        )
        hips_sd_m = relative * hips_m
        eyes_sd_m = math.hypot(relative * eyes_m, _EYES_AGAINST_HIPS_M)
        landmarks_m = np.where(pose.visibility[:, None] >= 0.5, placed.landmarks_m, np.nan)
        return BodyDistance(
            eyes_m,
            eyes_sd_m,
            hips_m,
            hips_sd_m,
            landmarks_m,
            (CueReading(rigid_fit.NAME, eyes_m, eyes_sd_m),),
        )
