"""One person's way through the picture: where their trunk is, where it goes, how they look."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.pose.looks import Looks
from optics.checks import FloatArray

_REACH = 0.3
"""How far, in trunk lengths, somebody may be from where they were expected in the next picture."""
_REACH_PER_S = 5.0
"""What is added for every second unseen: trunk lengths at a run, about 2.5 m/s. Common practice, no
source."""
_LONGEST_REACH = 3.0
_KNOWN_AFTER = 5
"""Pictures after which a lock counts: one on a mistaken first guess is let go at once."""
_LOOKS_AFTER = 2
"""Looks at a whole picture after which somebody counts who was seen in no other way."""
_VELOCITY_MEMORY_S = 0.25
_LONGEST_CARRIED_S = 0.5
_SIZE_WEIGHT = 1.0
_LOOKS_MEMORY_S = 2.0
"""Over about this long looks are averaged: turning round or a cloud changes them slowly."""
_LOOKS_LEARNT = 3
"""Pictures whose looks make a likeness."""

L = Landmark
_TRUNK = [L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP]
_numbers = itertools.count(1)


def length(vector: FloatArray) -> float:
    """Length of a vector (2,)."""
    return math.hypot(vector[0], vector[1])


@dataclass(slots=True)
class Trunk:
    """Middle (2,) and size of a trunk, pixels."""

    middle: FloatArray
    size: float

    @classmethod
    def of(cls, pose: Pose) -> Trunk:
        """Of that pose."""
        left, right, left_hip, right_hip = pose.image_px[_TRUNK]
        shoulders, hips = left + right, left_hip + right_hip
        long, breadth = length(shoulders - hips) / 2, length(left - right)
        return cls((shoulders + hips) / 4, max(long, breadth, 1.0))


@dataclass(slots=True, eq=False)
class Track:
    """One person's way through the picture.

    pictures: in how many the pose network saw them.   looked: how many looks round saw them, and
        looked_s: when the last one did.
    beside: whether they were last seen beside the followed person.
    pose: as they were last seen.   looks: how they are dressed, learnt from `learnt` pictures.
    number: theirs as long as they are reckoned with.
    """

    place: Trunk
    began_s: float
    seen_s: float
    pictures: int = 1
    looked: int = 0
    looked_s: float = -math.inf
    beside: bool = False
    pose: Pose | None = None
    looks: Looks | None = None
    learnt: int = 0
    velocity: FloatArray = field(default_factory=lambda: np.zeros(2))
    number: int = field(default_factory=lambda: next(_numbers))

    @property
    def known(self) -> bool:
        """Seen often enough not to be a slip of the detector."""
        return self.pictures >= _KNOWN_AFTER or self.looked >= _LOOKS_AFTER

    @property
    def likeness(self) -> Looks | None:
        """How they look, once that has been seen often enough to be known by."""
        enough = self.learnt >= _LOOKS_LEARNT or self.looked >= _LOOKS_AFTER
        return self.looks if enough else None

    def expected(self, time_s: float) -> FloatArray:
        """Where the middle of the trunk should be now."""
        elapsed = min(max(time_s - self.seen_s, 0.0), _LONGEST_CARRIED_S)
        return np.asarray(self.place.middle + self.velocity * elapsed)

    def gap(self, place: Trunk, time_s: float) -> float:
        """How far off a place is, in trunk lengths."""
        return length(place.middle - self.expected(time_s)) / self.place.size

    def cost(self, place: Trunk, time_s: float) -> float:
        """How ill a place fits, in trunk lengths."""
        return self.gap(place, time_s) + _SIZE_WEIGHT * abs(math.log(place.size / self.place.size))

    def reach(self, time_s: float) -> float:
        """The highest cost of a place that can still be this person's."""
        return min(_REACH + _REACH_PER_S * max(time_s - self.seen_s, 0.0), _LONGEST_REACH)

    def see(self, place: Trunk, time_s: float, pose: Pose | None = None) -> None:
        """They were seen there."""
        elapsed = max(time_s - self.seen_s, 1e-3)
        blend = 1 - math.exp(-elapsed / _VELOCITY_MEMORY_S)
        self.velocity += blend * ((place.middle - self.place.middle) / elapsed - self.velocity)
        self.place, self.seen_s, self.pose = place, time_s, pose
        self.pictures += 1

    def look_at(self, place: Trunk, time_s: float, pose: Pose) -> None:
        """They were seen there in a look round."""
        self.see(place, time_s, pose)
        self.pictures -= 1
        self.looked += 1
        self.looked_s = time_s

    def learn(self, looks: Looks | None, elapsed_s: float) -> None:
        """They looked like that, seen for sure and by themselves."""
        if looks is None:
            return
        share = max(1 - math.exp(-elapsed_s / _LOOKS_MEMORY_S), 1 / (self.learnt + 1))
        self.looks = looks if self.looks is None else self.looks.mixed(looks, min(1.0, share))
        self.learnt += 1

    def unlike(self, looks: Looks | None) -> float | None:
        """How unlike this person is who looks like that; None where that cannot be told."""
        mine = self.likeness
        return None if mine is None or looks is None else mine.unlike(looks)
