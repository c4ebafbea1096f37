"""Keeps a person's left and right apart when the detector slips.

Now and then the detector takes a front for a back, from one picture to the next: all left and right
landmarks change places and the head looks the other way, for a few pictures or for half a second.
Seen from the front, a body shows its left shoulder on the right; to show the opposite it has to
turn, and a turn passes through every angle. A jump is therefore a slip, and is put right until the
detector has insisted for long enough to be believed.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

_BELIEVED_AFTER_S = 1.0
_FASTEST_TURN_PER_S = 6.0
"""Change of the signed shoulder breadth, in trunk lengths per second, that a body can make: with
shoulders two thirds of a trunk wide, a brisk turn and a half a second. Common practice, no
source."""

_TURN_OVER_S = 0.6
"""Long enough for a turn to show beside a walker's sway, short enough to be over soon after it."""
_TURNING_PER_S = 0.5
"""Change of the signed shoulder breadth, in trunk lengths per second, that counts as turning: a
third of a turn in the time of a step. A walker's shoulders sway by a tenth."""

_KNOWN_AFTER_S = 1.0
"""How long somebody must face one way for "left" and "right" to mean something to them; a person
needs as long to take a word in."""

_FACE = 11
MIRROR = np.arange(33)
for _left, _right in (
    *((k, k + 3) for k in (1, 2, 3)),
    (7, 8),
    (9, 10),
    *((k, k + 1) for k in range(11, 33, 2)),
):
    MIRROR[_left], MIRROR[_right] = _right, _left


def signed_breadth(image_px: FloatArray) -> float:
    """Breadth of the shoulders across the trunk over the trunk's length, in the picture.

    Positive when the person's front is towards the camera; any roll of the camera.
    """
    left, right = image_px[Landmark.LEFT_SHOULDER], image_px[Landmark.RIGHT_SHOULDER]
    up_x, up_y = (left + right - image_px[Landmark.LEFT_HIP] - image_px[Landmark.RIGHT_HIP]) / 2
    across_x, across_y = left - right
    return float(up_x * across_y - up_y * across_x) / max(float(up_x**2 + up_y**2), 1e-9)


def exchanged(pose: Pose) -> Pose:
    """The pose with left and right exchanged and the head turned round; the face stays as it is."""
    world_m = pose.world_m[MIRROR]
    neck_z = (world_m[Landmark.LEFT_SHOULDER, 2] + world_m[Landmark.RIGHT_SHOULDER, 2]) / 2
    world_m[:_FACE, 2] = 2 * neck_z - world_m[:_FACE, 2]
    return replace(
        pose,
        image_px=pose.image_px[MIRROR],
        world_m=world_m,
        visibility=pose.visibility[MIRROR],
    )


class TurningWatch:
    """Whether the person is turning round on the spot or on the way.

    While a body turns, the detector's idea of its posture drifts, and with it the distance: what
    looks like speed towards or away from the camera is then mostly that.
    """

    def __init__(self) -> None:
        self._past: deque[tuple[float, float]] = deque()

    def update(self, time_s: float, pose: Pose | None) -> bool:
        """Whether they turn, after this picture."""
        if pose is None:
            self._past.clear()
            return False
        self._past.append((time_s, signed_breadth(pose.image_px)))
        while len(self._past) > 2 and self._past[1][0] <= time_s - _TURN_OVER_S:
            self._past.popleft()
        breadths = [breadth for _, breadth in self._past]
        elapsed_s = time_s - self._past[0][0]
        if elapsed_s < 0.5 * _TURN_OVER_S:
            return False
        return max(breadths) - min(breadths) > _TURNING_PER_S * elapsed_s


class FacingWatch:
    """Whether it is known which way the person faces, so that "left" and "right" mean something.

    Someone who turns round would be told one and then the other.
    """

    def __init__(self) -> None:
        self._faces_camera: bool | None = None
        self._since_s = 0.0

    def update(self, time_s: float, faces_camera: bool | None) -> bool:
        """Whether they have faced this way for a second; None: nobody is seen."""
        if faces_camera is not self._faces_camera:
            self._faces_camera, self._since_s = faces_camera, time_s
        return faces_camera is not None and time_s - self._since_s >= _KNOWN_AFTER_S


class FacingGuard:
    """Remembers which way one person faces."""

    def __init__(self) -> None:
        self._front: bool | None = None
        self._last = 0.0
        self._last_s = 0.0
        self._slipped_s: float | None = None

    def forget(self) -> None:
        """Begin anew, as after losing the person."""
        self._front = self._slipped_s = None

    def guard(self, pose: Pose, time_s: float) -> tuple[Pose, bool]:
        """The pose put right, and whether it had to be."""
        breadth = signed_breadth(pose.image_px)
        front = breadth > 0
        step, self._last = abs(breadth - self._last), breadth
        elapsed, self._last_s = max(time_s - self._last_s, 1e-3), time_s
        if self._front is None or front == self._front:
            self._front, self._slipped_s = front, None
            return pose, False
        turned = self._slipped_s is None and step <= _FASTEST_TURN_PER_S * elapsed
        if self._slipped_s is None:
            self._slipped_s = time_s
        if turned or time_s - self._slipped_s > _BELIEVED_AFTER_S:
            self._front, self._slipped_s = front, None
            return pose, False
        return exchanged(pose), True
