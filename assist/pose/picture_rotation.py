"""Whether the feed's picture lies on its side, by how the person's trunk lies in it.

Nothing else tells: a room on its side is a picture like any other, and the pose network finds the
person all the same. Somebody who bends or lies down does so for a moment, or was seen upright
before; who is seen lying from the start, for seconds, may be standing.
"""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark

L = Landmark
_TRUNK = [L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP]
_LEAST_VISIBILITY = 0.5
_WITHIN_DEG = 30.0
"""Of the upright, or of a quarter turn from it. A trunk on its side was within 6 degrees in a
rendered walk; who leans is between the two."""
_FORESHORTENED = 0.5
"""Trunk over shoulders below which it points at the camera, and its direction tells nothing."""
_OVER_S = 4.0
_LEAST_PICTURES = 8
_AGREEING = 0.8
_UPRIGHT_S = 1.0
"""Who was upright for so long was seen in a picture that is."""
_TOLD_FOR_S = 10.0


def _lies(pose: Pose) -> int | None:
    """By how many degrees clockwise the picture must be turned for an upright trunk; None: unclear.

    0, 90, 180 or 270.
    """
    if float(pose.visibility[_TRUNK].min()) < _LEAST_VISIBILITY:
        return None
    across = pose.image_px[L.LEFT_SHOULDER] - pose.image_px[L.RIGHT_SHOULDER]
    down = pose.middle_px(L.LEFT_HIP, L.RIGHT_HIP) - pose.middle_px(
        L.LEFT_SHOULDER, L.RIGHT_SHOULDER
    )
    if float(np.hypot(*down)) <= _FORESHORTENED * float(np.hypot(*across)):
        return None
    angle = math.degrees(math.atan2(float(down[0]), float(down[1])))  # from the picture's down
    nearest = 90 * round(angle / 90)
    return nearest % 360 if abs(angle - nearest) <= _WITHIN_DEG else None


class PictureRotationWatch:
    """Watches for a picture that lies on its side, until somebody was seen upright in it."""

    def __init__(self) -> None:
        self._past: deque[tuple[float, int | None]] = deque()
        self._upright_since_s: float | None = None
        self._right = False
        self._noticed_s = math.inf
        self.turn_deg: int | None = None
        """By how much the picture seems to have to be turned clockwise; None where not at all."""

    def update(self, time_s: float, pose: Pose | None) -> None:
        """Look at the next picture's person."""
        if self._right or pose is None:
            return
        lies = _lies(pose)
        if lies != 0:
            self._upright_since_s = None
        elif self._upright_since_s is None:
            self._upright_since_s = time_s
        elif time_s - self._upright_since_s >= _UPRIGHT_S:
            self._right, self.turn_deg = True, None
            return
        self._past.append((time_s, lies))
        while len(self._past) > 1 and self._past[1][0] <= time_s - _OVER_S:
            self._past.popleft()
        if self.turn_deg is None and time_s - self._past[0][0] >= _OVER_S:
            seen = [past for _, past in self._past]
            for turn_deg in (90, 180, 270):
                if seen.count(turn_deg) >= max(_LEAST_PICTURES, _AGREEING * len(seen)):
                    self.turn_deg, self._noticed_s = turn_deg, time_s

    def just_noticed(self, time_s: float) -> bool:
        """Whether it is time to tell: who lies there on purpose need not read it for ever."""
        return self.turn_deg is not None and time_s - self._noticed_s <= _TOLD_FOR_S
