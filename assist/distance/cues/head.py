"""Distance from the head alone: pupils, ears and nose, for framings that show little else."""

from __future__ import annotations

import math

import numpy as np

from assist.distance import CueAbsent, CueReading
from assist.distance.head import HEAD_LANDMARKS
from assist.distance.observation import Observation

NAME = "head"
_LANDMARK_SD_M = 0.003
"""Of the landmarks against each other; on rendered bodies they keep to this at any posture."""
_SHAPE_SD = 0.02
"""What a head's shape adds at any one turn of it, relative."""
_BODY_SD = 0.05
_INDEPENDENT_AFTER_S = 0.5
"""An upright body tells the head's size to so much, and something new only after a step."""
_UPRIGHT = 0.35
_LEAST_HEAD_PX = 12.0
_PIXEL_SD = 0.7


class Head:
    """The rigid fit of five points of the head, whose shape and direction are known.

    Heads differ, and hair, hats and blurred faces differ more, so the cue compares itself with the
    body whenever the person stands upright and remembers by how much the head is off. The memory
    is a scalar Kalman filter on the logarithm of that factor.
    """

    name = NAME

    def __init__(self, size_sd: float) -> None:
        self._size_sd = size_sd
        self.forget()

    def forget(self) -> None:
        """Begin anew, as with another person."""
        self._log = 0.0
        self._variance = self._size_sd**2

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """Place the head by least squares over translation."""
        if not seen.usable[HEAD_LANDMARKS].all():
            return CueAbsent(NAME, "the face is not in view")
        if not (seen.face_seen and seen.steady):
            return CueAbsent(NAME, "the face is turned away")
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
        eyes_m = (z + float(points[1, 2] + points[2, 2]) / 2) * math.exp(-self._log)
        if min(z, eyes_m) <= 0.1:
            return CueAbsent(NAME, "the landmarks of the face contradict each other")
        landmark = math.hypot(_LANDMARK_SD_M / z, _PIXEL_SD / seen.camera.fx_px)
        noise = landmark / math.sqrt(strength)
        sd = math.sqrt(noise**2 + _SHAPE_SD**2 + self._variance)
        return CueReading(NAME, eyes_m, sd * eyes_m, 0.0)

    def compare(self, seen: Observation, own_m: float, body_m: float, elapsed_s: float) -> None:
        """Learn from the depth of the eyes by the head and by the body in one picture."""
        if seen.folded > _UPRIGHT or not seen.steady:
            return
        part = min(max(elapsed_s, 0.0) / _INDEPENDENT_AFTER_S, 1.0)
        if part == 0:
            return
        gain = self._variance / (self._variance + _BODY_SD**2 / part)
        self._log += gain * math.log(own_m / body_m)
        self._variance *= 1 - gain
