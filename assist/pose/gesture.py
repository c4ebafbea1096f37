"""Hands-free orders: nobody walks back to a keyboard.

Three ways, for what a body can do; the user chooses one:

hand: one hand above the head for a second starts the timer, or pauses it while it runs; both for
    two seconds end the run. Either hand will do.
arm: the same without a hand and without reaching up: one upper arm held out sideways for two
    seconds; both for three seconds end the run. A forearm is not needed.
head: the head laid towards one shoulder for two seconds starts or pauses. Nothing ends the run.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Literal

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

OrderBy = Literal["hand", "arm", "head"]


class Gesture(Enum):
    """What a gesture orders, once it has been held long enough."""

    START_OR_PAUSE = "start or pause"
    END = "end"


_HOLD_S: dict[OrderBy, dict[Gesture, float]] = {
    "hand": {Gesture.START_OR_PAUSE: 1.0, Gesture.END: 2.0},
    # Postures that also occur in pictures must be held longer.
    "arm": {Gesture.START_OR_PAUSE: 2.0, Gesture.END: 3.0},
    "head": {Gesture.START_OR_PAUSE: 2.0},
}
_LEAST_VISIBILITY = 0.6
_CROWN = 2.2  # heights of the eyes above the mouth, from the eyes up to the crown
_GAP_S = 0.2
"""A detector that loses the hand for so long does not break the gesture."""
_ARM_OUT = math.cos(math.radians(65))
"""An upper arm counts as held out from 65 degrees off the trunk: hands on the hips, or elbows on
arm rests, spread it by half a right angle at most."""
_LEAST_ARM = 0.3
"""Its length over the trunk's from which it points sideways rather than at the camera."""
_HAND_UP = 0.25
"""Trunk lengths above the shoulder from which on a hand is at the head: in the hair, or waving."""
_TILT = math.radians(25)
"""A head is seldom held so for a portrait; common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Arm:
    shoulder: Landmark
    elbow: Landmark
    wrist: Landmark


_ARMS = (
    _Arm(Landmark.LEFT_SHOULDER, Landmark.LEFT_ELBOW, Landmark.LEFT_WRIST),
    _Arm(Landmark.RIGHT_SHOULDER, Landmark.RIGHT_ELBOW, Landmark.RIGHT_WRIST),
)
_BY_COUNT = (None, Gesture.START_OR_PAUSE, Gesture.END)


def _upright(pose: Pose) -> bool:
    """Whether head, trunk and hips lie one below the other in the picture."""
    y = pose.image_px[:, 1]
    eyes_y = y[Landmark.LEFT_EYE] + y[Landmark.RIGHT_EYE]
    mouth_y = y[Landmark.MOUTH_LEFT] + y[Landmark.MOUTH_RIGHT]
    shoulders_y = y[Landmark.LEFT_SHOULDER] + y[Landmark.RIGHT_SHOULDER]
    return bool(eyes_y < mouth_y < shoulders_y < y[Landmark.LEFT_HIP] + y[Landmark.RIGHT_HIP])


def hands_up(pose: Pose) -> Gesture | None:
    """What the hands show in this picture.

    A hand is up when its wrist is above the crown of the head and its elbow above its shoulder, and
    the trunk is upright in the picture: a hand in the hair, a wave at the shoulder or a person who
    bends down does not count.
    """
    if not _upright(pose):
        return None
    y = pose.image_px[:, 1]
    eyes_y = (y[Landmark.LEFT_EYE] + y[Landmark.RIGHT_EYE]) / 2
    mouth_y = (y[Landmark.MOUTH_LEFT] + y[Landmark.MOUTH_RIGHT]) / 2
    crown_y = eyes_y - _CROWN * (mouth_y - eyes_y)
    up = 0
    for arm in _ARMS:
        if (
            min(pose.visibility[[arm.elbow, arm.wrist]]) >= _LEAST_VISIBILITY
            and y[arm.wrist] < crown_y
            and y[arm.wrist] < y[arm.elbow] < y[arm.shoulder]
        ):
            up += 1
    return _BY_COUNT[up]


def arms_out(pose: Pose) -> Gesture | None:
    """What the upper arms show in this picture; hands need not be there, but not at the head."""
    if not _upright(pose):
        return None
    px = pose.image_px
    shoulders = pose.middle_px(Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    down = pose.middle_px(Landmark.LEFT_HIP, Landmark.RIGHT_HIP) - shoulders
    trunk_px = max(float(np.hypot(*down)), 1.0)
    out = 0
    for arm in _ARMS:
        if min(pose.visibility[[arm.elbow, arm.shoulder]]) < _LEAST_VISIBILITY:
            continue
        upper = px[arm.elbow] - px[arm.shoulder]
        length_px = float(np.hypot(*upper))
        outwards = float(upper @ (px[arm.shoulder] - shoulders)) > 0
        level = abs(float(upper @ down)) <= _ARM_OUT * length_px * trunk_px
        hand_px = float(px[arm.shoulder, 1] - px[arm.wrist, 1])
        hand_up = pose.visibility[arm.wrist] >= _LEAST_VISIBILITY and hand_px > _HAND_UP * trunk_px
        if outwards and level and length_px >= _LEAST_ARM * trunk_px and not hand_up:
            out += 1
    return _BY_COUNT[out]


def _angle(one: FloatArray, other: FloatArray) -> float:
    across = float(one[0] * other[1] - one[1] * other[0])
    return abs(math.atan2(across, float(one @ other)))


def head_tilted(pose: Pose) -> Gesture | None:
    """Whether the head is laid towards a shoulder, the face being towards the camera."""
    px = pose.image_px
    face = [Landmark.LEFT_EYE, Landmark.RIGHT_EYE, Landmark.LEFT_EAR, Landmark.RIGHT_EAR]
    shoulders = [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]
    if min(pose.visibility[face + shoulders]) < _LEAST_VISIBILITY:
        return None
    breadth = px[Landmark.LEFT_SHOULDER] - px[Landmark.RIGHT_SHOULDER]
    ears = px[Landmark.LEFT_EAR] - px[Landmark.RIGHT_EAR]
    eyes = px[Landmark.LEFT_EYE] - px[Landmark.RIGHT_EYE]
    if breadth[0] <= 0 or min(_angle(ears, breadth), _angle(eyes, breadth)) < _TILT:
        return None  # seen from behind, or upright
    if max(_angle(ears, breadth), _angle(eyes, breadth)) > math.pi / 2:
        return None
    return Gesture.START_OR_PAUSE


_READ: dict[OrderBy, Callable[[Pose], Gesture | None]] = {
    "hand": hands_up,
    "arm": arms_out,
    "head": head_tilted,
}


class GestureWatch:
    """Reports a gesture once, when it has been held long enough; then it must be let go.

    gap_s: for how long the detector may lose it, or not look.
    """

    def __init__(self, by: OrderBy = "hand", gap_s: float = _GAP_S) -> None:
        self._read, self._hold_s, self._gap_s = _READ[by], _HOLD_S[by], gap_s
        self._shown: Gesture | None = None
        self._since_s = 0.0
        self._seen_s = 0.0
        self._reported = False

    def update(self, time_s: float, pose: Pose | None) -> Gesture | None:
        """The gesture that is complete at this very picture, if any."""
        now = None if pose is None else self._read(pose)
        if now is None:
            if self._shown is not None and time_s - self._seen_s > self._gap_s:
                self._shown, self._reported = None, False
            return None
        if self._shown is not now:
            # Between one hand and two the hold begins anew, but what was reported stays reported:
            # lowering one of two hands is not an order.
            self._shown, self._since_s = now, time_s
        self._seen_s = time_s
        if self._reported or time_s - self._since_s < self._hold_s[now]:
            return None
        self._reported = True
        return now

    def let_go(self) -> None:
        """Whatever is shown now orders nothing until it has been let go."""
        self._reported = True

    def progress(self, time_s: float) -> float:
        """How far the gesture in hand is, from 0 to 1, so that the screen can show it."""
        if self._shown is None or self._reported:
            return 0.0
        return min(1.0, (time_s - self._since_s) / self._hold_s[self._shown])
