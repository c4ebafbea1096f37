"""From one pose to where the body is, with an honest uncertainty."""

from __future__ import annotations

import math

import numpy as np

from assist.body import Person
from assist.distance import BodyDistance, CueAbsent, CueReading, rigid_fit
from assist.distance.joint_fit import JOINTS, JointFitter
from assist.distance.observation import observe
from assist.pose import Pose
from assist.pose.facing import FacingGuard
from assist.pose.landmarks import Landmark
from optics.camera import PinholeCamera

_FLOOR = 0.03
_EYES_AGAINST_HIPS_M = 0.05


class DistanceEngine:
    """Measures one known person through one known camera, picture by picture."""

    def __init__(self, camera: PinholeCamera, person: Person) -> None:
        self._camera = camera
        self._person = person
        self._fitter = JointFitter()
        self._facing = FacingGuard()
        self._pictures = 0

    def measure(self, pose: Pose, time_s: float | None = None) -> BodyDistance | CueAbsent:
        """Depth of eyes and hips, or why there is none."""
        self._pictures += 1
        pose, slipped = self._facing.guard(
            pose, self._pictures / 30 if time_s is None else time_s
        )
        shape = self._person.shape
        seen = observe(pose, self._camera, shape, steady=not slipped)
        placed = rigid_fit.fit(seen)
        if isinstance(placed, CueAbsent):
            return placed
        fitted = self._fitter.fit(seen, placed.landmarks_m)
        hips_m, eyes_m = fitted.hips_m, fitted.eyes_m
        hips_sd_m = math.hypot(fitted.hips_sd_m, math.hypot(_FLOOR, shape.scale_sd) * hips_m)
        eyes_sd_m = math.hypot(fitted.eyes_sd_m, math.hypot(_FLOOR, shape.scale_sd) * eyes_m)
        landmarks_m = placed.landmarks_m + (fitted.joints_m[:, 2].mean() - placed.landmarks_m[JOINTS, 2].mean()) * seen.ray
        landmarks_m[JOINTS] = fitted.joints_m
        landmarks_m[~seen.usable] = np.nan
        return BodyDistance(
            eyes_m,
            eyes_sd_m,
            hips_m,
            hips_sd_m,
            landmarks_m,
            (CueReading("joint fit", eyes_m, eyes_sd_m),),
        )
