"""Hands-free orders by a hand held above the head: nobody walks back to a keyboard.

One hand above the head for a second starts the timer, or pauses it while it runs. Both hands above
the head for two seconds end the run. Either hand will do, so that it works with one arm too.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from assist.pose import Pose
from assist.pose.landmarks import Landmark


class Gesture(Enum):
    """A gesture that has been held long enough."""

    ONE_HAND_UP = "one hand up"
    BOTH_HANDS_UP = "both hands up"


_HOLD_S = {Gesture.ONE_HAND_UP: 1.0, Gesture.BOTH_HANDS_UP: 2.0}
_LEAST_VISIBILITY = 0.6
_CROWN = 2.2  # heights of the eyes above the mouth, from the eyes up to the crown
_GAP_S = 0.2
"""A detector that loses the hand for so long does not break the gesture."""


@dataclass(frozen=True, slots=True)
class _Arm:
    shoulder: Landmark
    elbow: Landmark
    wrist: Landmark


_ARMS = (
    _Arm(Landmark.LEFT_SHOULDER, Landmark.LEFT_ELBOW, Landmark.LEFT_WRIST),
    _Arm(Landmark.RIGHT_SHOULDER, Landmark.RIGHT_ELBOW, Landmark.RIGHT_WRIST),
)


def raised(pose: Pose) -> Gesture | None:
    """What the hands show in this picture.

    A hand is up when its wrist is above the crown of the head and its elbow above its shoulder, and
    the trunk is upright in the picture: a hand in the hair, a wave at the shoulder or a person who
    bends down does not count.
    """
    y = pose.image_px[:, 1]
    eyes_y = (y[Landmark.LEFT_EYE] + y[Landmark.RIGHT_EYE]) / 2
    mouth_y = (y[Landmark.MOUTH_LEFT] + y[Landmark.MOUTH_RIGHT]) / 2
    shoulders_y = (y[Landmark.LEFT_SHOULDER] + y[Landmark.RIGHT_SHOULDER]) / 2
    hips_y = (y[Landmark.LEFT_HIP] + y[Landmark.RIGHT_HIP]) / 2
    if not eyes_y < mouth_y < shoulders_y < hips_y:
        return None
    crown_y = eyes_y - _CROWN * (mouth_y - eyes_y)
    up = 0
    for arm in _ARMS:
        if (
            min(pose.visibility[[arm.elbow, arm.wrist]]) >= _LEAST_VISIBILITY
            and y[arm.wrist] < crown_y
            and y[arm.wrist] < y[arm.elbow] < y[arm.shoulder]
        ):
            up += 1
    return (None, Gesture.ONE_HAND_UP, Gesture.BOTH_HANDS_UP)[up]


class GestureWatch:
    """Reports a gesture once, when it has been held long enough; then it must be let go."""

    def __init__(self) -> None:
        self._shown: Gesture | None = None
        self._since_s = 0.0
        self._seen_s = 0.0
        self._reported = False

    def update(self, time_s: float, pose: Pose | None) -> Gesture | None:
        """The gesture that is complete at this very picture, if any."""
        now = None if pose is None else raised(pose)
        if now is None:
            if self._shown is not None and time_s - self._seen_s > _GAP_S:
                self._shown, self._reported = None, False
            return None
        if self._shown is not now:
            # Between one hand and two the hold begins anew, but what was reported stays reported:
            # lowering one of two hands is not an order.
            self._shown, self._since_s = now, time_s
        self._seen_s = time_s
        if self._reported or time_s - self._since_s < _HOLD_S[now]:
            return None
        self._reported = True
        return now

    def progress(self, time_s: float) -> float:
        """How far the gesture in hand is, from 0 to 1, so that the screen can show it."""
        if self._shown is None or self._reported:
            return 0.0
        return min(1.0, (time_s - self._since_s) / _HOLD_S[self._shown])
