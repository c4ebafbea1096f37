"""Whether the person stands still enough for the picture."""

from __future__ import annotations

from collections import deque

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

_WATCHED = (
    Landmark.NOSE,
    Landmark.LEFT_SHOULDER,
    Landmark.RIGHT_SHOULDER,
    Landmark.LEFT_HIP,
    Landmark.RIGHT_HIP,
)
_ROWS = np.array(_WATCHED)
_OVER_S = 0.4
_STILL = 0.12
"""Drift of head and trunk, in shoulder-to-hip heights a second, that still counts as standing.

A trunk is about half a metre, so this is 6 cm a second: twice the sway of a person standing at
ease, a twentieth of a walk. Common practice, no source."""


class Stillness:
    """Remembers where head and trunk were over the last moments."""

    def __init__(self) -> None:
        self._past: deque[tuple[float, FloatArray, float]] = deque()

    def update(self, time_s: float, pose: Pose | None) -> bool:
        """Whether the person is still now; False with no one, or before enough is known."""
        if pose is None:
            self._past.clear()
            return False
        points = pose.image_px[_ROWS]
        _, y1, y2, y3, y4 = points[:, 1].tolist()
        trunk_px = abs((y1 + y2) / 2 - (y3 + y4) / 2)
        self._past.append((time_s, points, max(trunk_px, 1.0)))
        while len(self._past) > 2 and self._past[1][0] <= time_s - _OVER_S:
            self._past.popleft()
        before_s, before, trunk_px = self._past[0]
        elapsed_s = time_s - before_s
        if elapsed_s < 0.6 * _OVER_S:
            return False
        moved_px = np.sort(np.hypot(*(points - before).T))[len(_WATCHED) // 2]  # the median
        return float(moved_px) / trunk_px / elapsed_s < _STILL
