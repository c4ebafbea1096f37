"""Holding on to one person while others come into view, and saying when it is no longer sure.

People are told apart by where they are: by the middle and the size of their trunk in the picture,
carried forward by how they moved. When two candidates are about equally near to where the person
should be, as when they cross, the nearest is followed but marked as not sure. That stays until the
person is alone in view for a moment, or the user confirms: two who have crossed cannot be told
apart afterwards by where they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

Choice = Literal["first", "largest"]

_REACH = 1.0
"""How far, in trunk lengths, somebody may be from where they were expected."""
_CLEARLY_BETTER = 2.0
"""How many times nearer than the next candidate the followed one must be."""
_APART = 1.2
"""Trunk lengths between two people from which on they cannot be taken for one another."""
_KNOWN_AFTER = 5
"""Pictures after which a lock counts: one on a mistaken first guess is let go at once."""
_SURE_AFTER_S = 0.5
_FORGOTTEN_AFTER_S = 2.0
_VELOCITY_MEMORY_S = 0.25
_SIZE_WEIGHT = 1.0

L = Landmark
_TRUNK = [L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP]


@dataclass(frozen=True, slots=True)
class Followed:
    """Who is followed in one picture.

    index: place in the list of poses, None when the person is not among them.
    sure: False when it may be another person.
    new: True when somebody is followed anew; filters of the one before should forget.
    """

    index: int | None
    sure: bool
    new: bool = False


def _place(pose: Pose) -> tuple[FloatArray, float]:
    """Middle (2,) and size of the trunk, pixels."""
    trunk = pose.image_px[_TRUNK]
    across = trunk[:2].mean(axis=0) - trunk[2:].mean(axis=0)
    breadth = float(np.hypot(*(trunk[0] - trunk[1])))
    return trunk.mean(axis=0), max(float(np.hypot(*across)), breadth, 1.0)


class PersonFollower:
    """Keeps to one person; locks on the first seen, the largest, or the one told by `choose`."""

    def __init__(self, choice: Choice = "first") -> None:
        self._choice = choice
        self.forget()

    def forget(self) -> None:
        """Follow nobody; the next picture chooses anew."""
        self._middle: FloatArray | None = None
        self._velocity = np.zeros(2)
        self._size = 1.0
        self._seen_s = -math.inf
        self._unsure_since_s: float | None = None
        self._pictures = 0

    def choose(self, poses: Sequence[Pose], x_px: float, y_px: float, time_s: float) -> Followed:
        """Follow whoever is nearest to a point of the picture, as when the user pointed there."""
        self.forget()
        if not poses:
            return Followed(None, False)
        point = np.array([x_px, y_px])
        index = int(np.argmin([float(np.hypot(*(_place(p)[0] - point))) for p in poses]))
        self._lock(poses[index], time_s)
        self._pictures = _KNOWN_AFTER
        return Followed(index, True, True)

    def follow(self, poses: Sequence[Pose], time_s: float) -> Followed:
        """Find the person among the poses of the next picture."""
        if self._middle is not None and time_s - self._seen_s > _FORGOTTEN_AFTER_S:
            self.forget()
        if not poses and self._pictures < _KNOWN_AFTER:
            self.forget()
        if not poses:
            return Followed(None, self._middle is not None and self._unsure_since_s is None)
        places = [_place(p) for p in poses]
        if self._middle is None:
            sizes = [size for _, size in places]
            # The first seen: where several are, the largest is the likeliest to have set it up.
            index = int(np.argmax(sizes))
            self._lock(poses[index], time_s)
            alone = len(poses) == 1 or self._choice == "largest"
            if not alone:
                self._unsure_since_s = time_s
            return Followed(index, alone, True)
        elapsed = max(time_s - self._seen_s, 1e-3)
        expected = self._middle + self._velocity * min(elapsed, 0.5)
        costs = [
            float(np.hypot(*(middle - expected))) / self._size
            + _SIZE_WEIGHT * abs(math.log(size / self._size))
            for middle, size in places
        ]
        index = int(np.argmin(costs))
        reach = _REACH * (1 + 2 * min(elapsed, 1.0))
        if costs[index] > reach and self._pictures < _KNOWN_AFTER:
            self.forget()
            return self.follow(poses, time_s)
        if costs[index] > reach:
            return Followed(None, self._unsure_since_s is None)
        middle, size = places[index]
        others = [k for k in range(len(poses)) if k != index]
        rival = min((costs[k] for k in others), default=math.inf)
        near = min(
            (float(np.hypot(*(places[k][0] - middle))) / size for k in others), default=math.inf
        )
        # After a gap the person may have changed places with whoever is there now.
        gap = elapsed > _SURE_AFTER_S and bool(others)
        mixed_up = near < _APART and rival < _CLEARLY_BETTER * max(costs[index], 0.1)
        unsure = self._unsure_since_s is not None
        if gap or mixed_up or (unsure and others):
            self._unsure_since_s = time_s
        elif unsure and time_s - (self._unsure_since_s or 0.0) > _SURE_AFTER_S:
            # Alone again for a while: there is nobody left to be taken for.
            self._unsure_since_s = None
        blend = 1 - math.exp(-elapsed / _VELOCITY_MEMORY_S)
        self._velocity += blend * ((middle - self._middle) / elapsed - self._velocity)
        self._middle, self._size, self._seen_s = middle, size, time_s
        self._pictures += 1
        return Followed(index, self._unsure_since_s is None)

    def confirm(self) -> None:
        """The user says that the followed person is the right one."""
        self._unsure_since_s = None

    def _lock(self, pose: Pose, time_s: float) -> None:
        self._middle, self._size = _place(pose)
        self._velocity = np.zeros(2)
        self._seen_s = time_s
