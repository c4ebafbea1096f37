"""Limbs that are not there, or never seen: nobody is told that a hand is cut off who has none.

The pose network draws every limb of every body. It believes less in those that it does not see, so
a hand or foot that it does not believe in for many seconds, where it would have to be in view, is
taken as not there to talk about: missing, in a pocket, under a blanket. Which of these is neither
known nor claimed. What the user states goes before what is seen.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import replace

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.setup.body import Limb

L = Landmark
_HANDS: dict[Limb, tuple[Landmark, ...]] = {
    "left-hand": (L.LEFT_WRIST, L.LEFT_PINKY, L.LEFT_INDEX, L.LEFT_THUMB),
    "right-hand": (L.RIGHT_WRIST, L.RIGHT_PINKY, L.RIGHT_INDEX, L.RIGHT_THUMB),
}
_FEET: dict[Limb, tuple[Landmark, ...]] = {
    "left-foot": (L.LEFT_ANKLE, L.LEFT_HEEL, L.LEFT_FOOT_INDEX),
    "right-foot": (L.RIGHT_ANKLE, L.RIGHT_HEEL, L.RIGHT_FOOT_INDEX),
}
MARKS: dict[Limb, tuple[Landmark, ...]] = {
    **_HANDS,
    "left-arm": (L.LEFT_ELBOW, *_HANDS["left-hand"]),
    "right-arm": (L.RIGHT_ELBOW, *_HANDS["right-hand"]),
    **_FEET,
    "left-leg": (L.LEFT_KNEE, *_FEET["left-foot"]),
    "right-leg": (L.RIGHT_KNEE, *_FEET["right-foot"]),
}
_HELD_BY: dict[Limb, Landmark] = {
    "left-hand": L.LEFT_SHOULDER,
    "right-hand": L.RIGHT_SHOULDER,
    "left-foot": L.LEFT_HIP,
    "right-foot": L.RIGHT_HIP,
}
_LEAST_VISIBILITY = 0.5
_OVER_S = 10.0
_LEAST_S = 4.0
"""So long a limb must have been looked for before its absence says anything."""
_NEVER = 0.05
"""Share of pictures with the limb in view below which it counts as never seen."""


def without(pose: Pose, absent: Iterable[Limb]) -> Pose:
    """The pose with those limbs marked as not in view, so that nothing is measured from them."""
    marks = [mark for limb in absent for mark in MARKS[limb]]
    if not marks:
        return pose
    visibility = pose.visibility.copy()
    visibility[marks] = 0.0
    return replace(pose, visibility=visibility)


class _Past:
    """When a limb was in view of late, and in how many of those pictures it was believed."""

    def __init__(self) -> None:
        self._looks: deque[tuple[float, bool]] = deque()
        self._seen = 0

    def add(self, time_s: float, seen: bool) -> None:
        """One more picture with the limb's place in view."""
        self._looks.append((time_s, seen))
        self._seen += seen
        while self._looks[0][0] < time_s - _OVER_S:
            self._seen -= self._looks.popleft()[1]

    @property
    def never_seen(self) -> bool:
        """Whether it was in view for long enough and hardly ever believed."""
        looks = self._looks
        if not looks or looks[-1][0] - looks[0][0] < _LEAST_S:
            return False
        return self._seen <= _NEVER * len(looks)


class LimbWatch:
    """Which limbs not to talk about: those stated, and the hands and feet never seen of late."""

    def __init__(self, stated: Iterable[Limb] = ()) -> None:
        self._stated = frozenset(stated)
        self.forget()

    def forget(self) -> None:
        """Begin anew with another person."""
        self._past: dict[Limb, _Past] = {limb: _Past() for limb in _HELD_BY}

    def update(self, time_s: float, pose: Pose | None) -> frozenset[Limb]:
        """The limbs not to talk about, after this picture."""
        if pose is not None:
            inside = pose.inside
            believed = pose.visibility >= _LEAST_VISIBILITY
            for limb, past in self._past.items():
                held_by, itself = _HELD_BY[limb], MARKS[limb][0]
                # Where the picture's edge is near, not seeing a limb tells nothing.
                if inside[held_by] and believed[held_by] and inside[itself]:
                    past.add(time_s, bool(believed[itself]))
        unseen = {limb for limb, past in self._past.items() if past.never_seen}
        return self._stated | unseen
