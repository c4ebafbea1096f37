"""Whether the person stands or sits, from the pose alone: who sits is told no steps.

Only legs in view tell. Standing and walking, the thighs go on where the trunk ends; on a seat they
lie square to it, and the shanks square to them. Whoever bends, squats or kneels is neither.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.setup.body import Posture
from optics.checks import FloatArray

L = Landmark


_LEGS = ((L.LEFT_HIP, L.LEFT_KNEE, L.LEFT_ANKLE), (L.RIGHT_HIP, L.RIGHT_KNEE, L.RIGHT_ANKLE))
_LEAST_VISIBILITY = 0.5
_THIGH_PER_TRUNK = 0.76
"""Length of a thigh over the trunk's side, between the detector's landmarks
(`assist.setup.body`)."""
_STRAIGHT, _BENT = 0.72, 0.62
"""How far a thigh goes on in the trunk's direction, 1 for all of it: standing above the one, also
in a stride, on a seat below the other. Set on rendered bodies of known posture."""
_FOLDED_KNEE = -0.55
"""Cosine between thigh and shank below which a knee is folded as in a squat, not on a seat."""
_UPRIGHT = 0.8
"""Cosine between the trunk and the picture's upright: who sits holds it so, who bows does not."""
_OVER_S = 1.5
_LEAST_S = 1.0
_AGREEING = 0.8
"""Share of the pictures of the last moments that must show it: a step or a bow is over sooner."""


def _cosine(one: FloatArray, other: FloatArray) -> float:
    return float(one @ other) / max(float(np.sqrt((one @ one) * (other @ other))), 1e-9)


def shown(pose: Pose) -> Posture:
    """What one picture shows; one leg is enough where the other is missing or hidden."""
    w = pose.world_m
    usable = pose.inside & (pose.visibility >= _LEAST_VISIBILITY)
    if not usable[[L.LEFT_SHOULDER, L.RIGHT_SHOULDER]].any():
        return Posture.NOT_SURE
    down = w[L.LEFT_HIP] + w[L.RIGHT_HIP] - w[L.LEFT_SHOULDER] - w[L.RIGHT_SHOULDER]
    down_px = pose.middle_px(L.LEFT_HIP, L.RIGHT_HIP) - pose.middle_px(
        L.LEFT_SHOULDER, L.RIGHT_SHOULDER
    )
    upright = float(down[1]) >= _UPRIGHT * float(np.sqrt(down @ down))
    found = set()
    for hip, knee, ankle in _LEGS:
        if not (usable[hip] and usable[knee]):
            continue
        thigh, shank = w[knee] - w[hip], w[ankle] - w[knee]
        # The detector's own idea in space, and what the picture shows of it, err differently.
        drop = float((pose.image_px[knee] - pose.image_px[hip]) @ down_px)
        in_picture = drop / max(float(down_px @ down_px), 1.0) / _THIGH_PER_TRUNK
        onwards = (_cosine(thigh, down) + min(max(in_picture, -1.0), 1.0)) / 2
        folded = bool(usable[ankle]) and _cosine(shank, thigh) < _FOLDED_KNEE
        if onwards >= _STRAIGHT and not folded:
            found.add(Posture.STANDING)
        elif onwards <= _BENT and upright and not folded:
            found.add(Posture.SEATED)
        else:
            found.add(Posture.NOT_SURE)
    return found.pop() if len(found) == 1 else Posture.NOT_SURE


class PostureWatch:
    """The posture over time: held until the pictures clearly show another.

    `fixed`: the posture that the user stated; nothing is looked at then.
    """

    def __init__(self, fixed: Posture | None = None) -> None:
        self._fixed = fixed
        self.forget()

    def forget(self) -> None:
        """Begin anew: with another person, or after a time in which nothing was seen."""
        self._found = Posture.NOT_SURE
        self._past: deque[tuple[float, Posture]] = deque()

    @property
    def now(self) -> Posture:
        """The posture as far as it is known."""
        return self._fixed or self._found

    def update(self, time_s: float, pose: Pose | None) -> Posture:
        """The posture after this picture."""
        if self._fixed is not None:
            return self._fixed
        if pose is not None:
            self._past.append((time_s, shown(pose)))
        while self._past and self._past[0][0] < time_s - _OVER_S:
            self._past.popleft()
        if not self._past or time_s - self._past[0][0] < _LEAST_S:
            return self._found
        seen = [posture for _, posture in self._past]
        for posture in (Posture.STANDING, Posture.SEATED):
            if seen.count(posture) >= _AGREEING * len(seen):
                self._found = posture
        return self._found
