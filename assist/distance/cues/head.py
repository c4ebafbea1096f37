"""Distance from the head alone: pupils, ears and nose, for framings that show little else."""

from __future__ import annotations

import math

import numpy as np

from assist.distance import CueAbsent, CueReading, Size
from assist.distance.head import HEAD_LANDMARKS, head_axes
from assist.distance.observation import Observation

NAME = "head"
_LANDMARK_SD_M = 0.003
"""Of the landmarks against each other; on rendered bodies they keep to this at any posture."""
_SHAPE_SD = 0.15
"""What the detector's drawing of a head adds, relative: turned, dim or blurred it is off by so
much. Where the face network finds the face, that replaces this cue."""
_LEAST_HEAD_PX = 12.0
_PIXEL_SD = 0.7
_LEAST_COSINE = math.cos(math.radians(45.0))
"""Beyond this turn the detector draws heads much too small."""


class Head:
    """The rigid fit of five points of the head, whose shape and direction are known."""

    name = NAME

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """Place the head by least squares over translation."""
        if not seen.usable[HEAD_LANDMARKS].all():
            return CueAbsent(NAME, "the face is not in view")
        if not (seen.face_seen and seen.steady):
            return CueAbsent(NAME, "the face is turned away")
        forwards = head_axes(seen.world_m)[2]
        if -float(forwards @ seen.ray) < _LEAST_COSINE:
            return CueAbsent(NAME, "the head is turned to the side")
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
        landmark = math.hypot(_LANDMARK_SD_M / z, _PIXEL_SD / seen.camera.fx_px)
        noise = landmark / math.sqrt(strength)
        return CueReading(NAME, eyes_m, math.hypot(noise, _SHAPE_SD) * eyes_m, Size.HEAD)
