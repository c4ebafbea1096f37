"""Distance from the head alone: pupils, ears and nose, for framings that show little else."""

from __future__ import annotations

import math

import numpy as np

from assist.distance import CueAbsent, CueReading
from assist.distance.head import HEAD_LANDMARKS
from assist.distance.observation import Observation

NAME = "head"
_LANDMARK_SD_M = 0.015
_HEAD_SIZE_SD = 0.06
"""Adults' heads differ by about so much (breadth 4 %, pupil distance 6 %; from memory)."""
_LEAST_HEAD_PX = 40.0


class Head:
    """The rigid fit of five points of the head, whose shape and direction are known."""

    name = NAME

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """Place the head by least squares over translation."""
        if not seen.usable[HEAD_LANDMARKS].all():
            return CueAbsent(NAME, "the face is not in view")
        rays = seen.rays[HEAD_LANDMARKS]
        spread = rays - rays.mean(axis=0)
        if float(np.ptp(rays, axis=0).max()) * seen.camera.fx_px < _LEAST_HEAD_PX:
            return CueAbsent(NAME, "the head is too small in the picture")
        points = seen.body_m[HEAD_LANDMARKS]
        # x z + x p_z - p_x = t_x with t_x free: regress on the rays about their mean.
        target = points[:, :2] - rays * points[:, 2:]
        target = target - target.mean(axis=0)
        strength = float(np.sum(spread**2))
        z = float(np.sum(spread * target)) / strength
        eyes_m = z + float(points[1, 2] + points[2, 2]) / 2
        if min(z, eyes_m) <= 0.1:
            return CueAbsent(NAME, "the landmarks of the face contradict each other")
        noise = _LANDMARK_SD_M / (math.sqrt(strength) * z)
        return CueReading(NAME, eyes_m, math.hypot(noise, _HEAD_SIZE_SD) * eyes_m, 0.0)
