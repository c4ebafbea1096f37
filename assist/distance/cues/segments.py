"""Distance from single lengths of the body that are seen nearly side-on."""

from __future__ import annotations

import math

import numpy as np

from assist.distance import CueAbsent, CueReading
from assist.distance.observation import Observation
from assist.pose.landmarks import Landmark

NAME = "segments"
_LEAST_SINE = 0.9
"""A length within 26 degrees of square to the line of sight is short by a tenth at most."""
_LANDMARK_SD_M = 0.012
_OWN_SD = 0.06
_LEAST_SEGMENTS = 2

L = Landmark
_SEGMENTS = (
    (L.LEFT_SHOULDER, L.RIGHT_SHOULDER, "shoulders"),
    (L.LEFT_SHOULDER, L.LEFT_HIP, "side"),
    (L.RIGHT_SHOULDER, L.RIGHT_HIP, "side"),
    (L.LEFT_HIP, L.LEFT_KNEE, "thigh"),
    (L.RIGHT_HIP, L.RIGHT_KNEE, "thigh"),
    (L.LEFT_KNEE, L.LEFT_ANKLE, "shank"),
    (L.RIGHT_KNEE, L.RIGHT_ANKLE, "shank"),
)
_ONE = np.array([one for one, _, _ in _SEGMENTS])
_OTHER = np.array([other for _, other, _ in _SEGMENTS])
_NAMES = [name for _, _, name in _SEGMENTS]


class Segments:
    """The weighted median over the trunk's and the legs' segments."""

    name = NAME

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """Each segment: z = length x sine of its angle to the ray / its length in rays.

        The eyes follow from the segment's middle by the detector's posture.
        """
        body = seen.body_m
        span = body[_ONE] - body[_OTHER]
        length = np.sqrt(np.einsum("ka,ka->k", span, span))
        across = span - (span @ seen.ray)[:, None] * seen.ray
        sine = np.sqrt(np.einsum("ka,ka->k", across, across)) / np.maximum(length, 1e-9)
        good = seen.usable[_ONE] & seen.usable[_OTHER] & (sine >= _LEAST_SINE)
        if int(good.sum()) < _LEAST_SEGMENTS:
            return CueAbsent(NAME, "too few parts of the body are seen side-on")
        seen_span = seen.rays[_ONE] - seen.rays[_OTHER]
        apparent = np.hypot(seen_span[:, 0], seen_span[:, 1])
        lengths = np.array([seen.shape.segments_m[name] for name in _NAMES])
        depth = lengths * sine / np.maximum(apparent, 1e-9)
        eyes_z = (body[L.LEFT_EYE, 2] + body[L.RIGHT_EYE, 2]) / 2
        eyes = depth + eyes_z - (body[_ONE, 2] + body[_OTHER, 2]) / 2
        weight = np.where(good, lengths**2, 0.0)
        order = np.argsort(eyes)
        total = np.cumsum(weight[order])
        eyes_m = float(eyes[order[np.searchsorted(total, total[-1] / 2)]])
        if eyes_m <= 0:
            return CueAbsent(NAME, "the segments put the person behind the camera")
        noise = _LANDMARK_SD_M / math.sqrt(float(np.sum(lengths[good] ** 2)))
        scale_sd_m = seen.shape.scale_sd * eyes_m
        own_m = math.hypot(_OWN_SD, noise) * eyes_m
        return CueReading(NAME, eyes_m, math.hypot(own_m, scale_sd_m), scale_sd_m)
