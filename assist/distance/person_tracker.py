"""Holding on to one person while others come into view, and saying when it is no longer sure.

People are told apart by where they are: by the middle and the size of their trunk in the picture,
carried forward by how they moved. Everybody seen is carried forward, so that a pose which continues
somebody else's way is not taken for the followed person, and so that who has gone behind another is
remembered. When two are about equally near to where the person should be, as when they cross, the
nearest is followed but marked as not sure. That stays until nobody is left to be taken for: two who
have crossed cannot be told apart afterwards by where they are.

A detector may also go over from one person to another who was hidden. Nobody is so quick: a pose
that leaps is held to be somebody else's, and followed only after a while, as somebody new and not
sure; one that slides, faster than a trunk can be set in motion, is not sure from there on.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

Choice = Literal["first", "largest"]

_REACH = 0.3
"""How far, in trunk lengths, somebody may be from where they were expected in the next picture."""
_REACH_PER_S = 5.0
"""What is added for every second unseen: trunk lengths at a run, about 2.5 m/s. Common practice, no
source."""
_LONGEST_REACH = 3.0
_CLEARLY_BETTER = 2.0
"""How many times nearer than the next candidate the followed one must be."""
_APART = 1.2
"""Trunk lengths between two people from which on they cannot be taken for one another."""
_KNOWN_AFTER = 5
"""Pictures after which a lock counts: one on a mistaken first guess is let go at once."""
_SURE_AFTER_S = 0.5
_STRAYED_S = 0.3
"""How long a pose must go on elsewhere, the followed one being gone, before it is followed."""
_FORGOTTEN_AFTER_S = 2.0
_HIDDEN_S = 3.0
"""How long somebody who vanished beside the followed person may still be behind them."""
_VELOCITY_MEMORY_S = 0.25
_JOLT_S = 0.12
_JOLT = 0.35
"""Trunk lengths by which a trunk departs from its way within _JOLT_S: more than gravity would bring
about. Of people walking, bending and reaching it was at most 0.26, of a network that slid from one
to another 0.8 (`tests.benchmarks.two_people`; set on that footage)."""
_LONGEST_CARRIED_S = 0.5
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


def _length(vector: FloatArray) -> float:
    """Length of a vector (2,)."""
    return math.hypot(vector[0], vector[1])


@dataclass(slots=True)
class _Trunk:
    """Middle (2,) and size of a trunk, pixels."""

    middle: FloatArray
    size: float

    @classmethod
    def of(cls, pose: Pose) -> _Trunk:
        left, right, left_hip, right_hip = pose.image_px[_TRUNK]
        shoulders, hips = left + right, left_hip + right_hip
        length, breadth = _length(shoulders - hips) / 2, _length(left - right)
        return cls((shoulders + hips) / 4, max(length, breadth, 1.0))


@dataclass(slots=True)
class _Track:
    """One person's way through the picture.

    beside: whether they were last seen beside the followed person.
    """

    place: _Trunk
    began_s: float
    seen_s: float
    pictures: int = 1
    beside: bool = False
    velocity: FloatArray = field(default_factory=lambda: np.zeros(2))

    @property
    def known(self) -> bool:
        """Seen often enough not to be a slip of the detector."""
        return self.pictures >= _KNOWN_AFTER

    def expected(self, time_s: float) -> FloatArray:
        """Where the middle of the trunk should be now."""
        elapsed = min(max(time_s - self.seen_s, 0.0), _LONGEST_CARRIED_S)
        return np.asarray(self.place.middle + self.velocity * elapsed)

    def cost(self, place: _Trunk, time_s: float) -> float:
        """How ill a place fits, in trunk lengths."""
        gap = _length(place.middle - self.expected(time_s)) / self.place.size
        return gap + _SIZE_WEIGHT * abs(math.log(place.size / self.place.size))

    def reach(self, time_s: float) -> float:
        """The highest cost of a place that can still be this person's."""
        return min(_REACH + _REACH_PER_S * max(time_s - self.seen_s, 0.0), _LONGEST_REACH)

    def see(self, place: _Trunk, time_s: float) -> None:
        """They were seen there."""
        elapsed = max(time_s - self.seen_s, 1e-3)
        blend = 1 - math.exp(-elapsed / _VELOCITY_MEMORY_S)
        self.velocity += blend * ((place.middle - self.place.middle) / elapsed - self.velocity)
        self.place, self.seen_s = place, time_s
        self.pictures += 1


class PersonTracker:
    """Keeps to one person; locks on the first seen, or on the largest."""

    def __init__(self, choice: Choice = "first") -> None:
        self._choice = choice
        self.forget()

    def forget(self) -> None:
        """Follow nobody; the next picture chooses anew."""
        self._mine: _Track | None = None
        self._others: list[_Track] = []
        self._unsure_since_s: float | None = None
        self._way: deque[tuple[float, FloatArray]] = deque()

    def follow(self, poses: Sequence[Pose], time_s: float) -> Followed:
        """Find the person among the poses of the next picture."""
        mine = self._mine
        if mine is not None and time_s - mine.seen_s > _FORGOTTEN_AFTER_S:
            self.forget()
        if not poses:
            if mine is not None and not mine.known:
                self.forget()
            return Followed(None, self._mine is not None and self._unsure_since_s is None)
        places = [_Trunk.of(p) for p in poses]
        mine = self._mine
        if mine is None:
            return self._first(places, time_s)
        costs = [mine.cost(place, time_s) for place in places]
        unseen_s = time_s - mine.seen_s
        index = self._assign(places, time_s)
        if index is None:
            return self._missing(places, time_s)
        if self._jolted(time_s):
            # Whom it was before is taken to be hidden where they were.
            before = _Trunk(self._way[0][1], mine.place.size)
            hidden = _Track(before, time_s, time_s - 1e-3, _KNOWN_AFTER, True)
            self._others = [*self._others, hidden]
            self._unsure_since_s = time_s
            self._way.clear()
        self._doubt(costs, index, unseen_s, time_s)
        return Followed(index, self._unsure_since_s is None)

    # -- beginning ----------------------------------------------------------------------------

    def _first(self, places: Sequence[_Trunk], time_s: float) -> Followed:
        # The first seen: where several are, the largest is the likeliest to have set it up.
        index = int(np.argmax([place.size for place in places]))
        self._lock(places, index, time_s)
        sure = len(places) == 1 or self._choice == "largest"
        if not sure:
            self._unsure_since_s = time_s
        return Followed(index, sure, True)

    def _lock(self, places: Sequence[_Trunk], index: int, time_s: float) -> None:
        tracks = [_Track(place, time_s, time_s) for place in places]
        self._mine = tracks.pop(index)
        self._others = tracks

    def _jolted(self, time_s: float) -> bool:
        """Whether the followed trunk was set in motion faster than a body can."""
        assert self._mine is not None
        way = self._way
        way.append((time_s, self._mine.place.middle))
        while len(way) > 2 and way[1][0] <= time_s - 2 * _JOLT_S:
            way.popleft()
        times = [t for t, _ in way]
        # Gaps leave it open how the body got there, and are doubted for themselves.
        widest_s = max((after - before for before, after in pairwise(times)), default=0.0)
        if times[0] > time_s - 2 * _JOLT_S or widest_s > _JOLT_S:
            return False
        first, middle, last = (
            _between(way, t) for t in (time_s - 2 * _JOLT_S, time_s - _JOLT_S, time_s)
        )
        return _length(last - 2 * middle + first) > _JOLT * self._mine.place.size

    # -- going on -----------------------------------------------------------------------------

    def _assign(self, places: Sequence[_Trunk], time_s: float) -> int | None:
        """Give each pose to the track it fits best; the followed person's pose, if there is one."""
        assert self._mine is not None
        tracks = [self._mine, *self._others]
        pairs = sorted(
            (track.cost(place, time_s), t, p)
            for t, track in enumerate(tracks)
            for p, place in enumerate(places)
            if track.cost(place, time_s) <= track.reach(time_s)
        )
        taken: dict[int, int] = {}
        for _, t, p in pairs:
            if t not in taken and p not in taken.values():
                taken[t] = p
        for t, p in taken.items():
            tracks[t].see(places[p], time_s)
        self._others += [
            _Track(place, time_s, time_s)
            for p, place in enumerate(places)
            if p not in taken.values()
        ]
        middle, size = self._mine.expected(time_s), self._mine.place.size
        for other in self._others:
            if other.seen_s == time_s:
                gap = _length(other.place.middle - middle) / size
                other.beside = gap < _APART
        self._others = [o for o in self._others if time_s - o.seen_s <= _kept_s(o)]
        return taken.get(0)

    def _missing(self, places: Sequence[_Trunk], time_s: float) -> Followed:
        """The followed person is not among the poses."""
        mine = self._mine
        assert mine is not None
        if not mine.known:
            self.forget()
            return self._first(places, time_s)
        strayed = [
            o
            for o in self._others
            if o.began_s > mine.seen_s and o.known and time_s - o.began_s >= _STRAYED_S
        ]
        if not strayed:
            return Followed(None, self._unsure_since_s is None)
        # Nobody else was there before: the pose may be theirs, or of who was behind them.
        chosen = max(strayed, key=lambda o: (o.seen_s, o.place.size))
        if chosen.seen_s < time_s:
            return Followed(None, self._unsure_since_s is None)
        self._others = [o for o in self._others if o is not chosen]
        mine.beside = True
        self._others.append(mine)
        self._mine = chosen
        self._way.clear()
        self._unsure_since_s = time_s
        index = next(k for k, place in enumerate(places) if place is chosen.place)
        return Followed(index, False, True)

    def _doubt(self, costs: Sequence[float], index: int, unseen_s: float, time_s: float) -> None:
        """Begin, go on with or end doubting who is who, the person having been found."""
        mine = self._mine
        assert mine is not None
        others = [o for o in self._others if o.known or o.seen_s == time_s]
        rivals = [cost for k, cost in enumerate(costs) if k != index]
        # Who is hidden is where they were going.
        rivals += [
            _length(o.expected(time_s) - mine.place.middle) / mine.place.size
            for o in others
            if o.seen_s < time_s
        ]
        rival = min(rivals, default=math.inf)
        near = min(
            (_length(o.expected(time_s) - mine.place.middle) / mine.place.size for o in others),
            default=math.inf,
        )
        # After a gap the person may have changed places with whoever is there now.
        gap = unseen_s > _SURE_AFTER_S and bool(others)
        mixed_up = near < _APART and rival < _CLEARLY_BETTER * max(costs[index], 0.1)
        unsure = self._unsure_since_s is not None
        if gap or mixed_up or (unsure and others):
            self._unsure_since_s = time_s
        elif unsure and time_s - (self._unsure_since_s or 0.0) > _SURE_AFTER_S:
            # Alone for a while: there is nobody left to be taken for.
            self._unsure_since_s = None


def _between(way: Sequence[tuple[float, FloatArray]], time_s: float) -> FloatArray:
    """Where a way led at a time within it; its end after it."""
    for (before_s, before), (after_s, after) in pairwise(way):
        if time_s < after_s:
            share = (time_s - before_s) / (after_s - before_s)
            return np.asarray(before + share * (after - before))
    return way[-1][1]


def _kept_s(track: _Track) -> float:
    """How long somebody unseen is still reckoned with."""
    return _HIDDEN_S if track.beside and track.known else _SURE_AFTER_S
