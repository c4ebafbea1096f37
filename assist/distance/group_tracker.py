"""Who is who of several people whose place in the picture is all that tells them apart.

Each of them has a number, given from the right of the picture to the left, as a mirrored screen
shows them from left to right, at the moment when all have been seen apart from one another for a
while. From then on everybody keeps their number by where they were going. When two could have
changed places - one hid the other, they came so close that either pose could be either's, or a pose
moved as no body can - nobody is sure any more who is who, until all are seen apart again; then they
are numbered anew, from left to right on the screen. So the rule that a user has to know is one:
statures are told from left to right.
"""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from scipy.optimize import linear_sum_assignment

from assist.distance.person_track import Track, Trunk
from assist.distance.person_tracker import Followed
from assist.pose import Pose
from optics.checks import FloatArray

_CLEARLY_BETTER = 2.0
"""How many times better what is taken must fit than the same with two people exchanged."""
_LEAST_COST = 0.1
"""What a place may be off for a network's own noise, in trunk lengths."""
_APART = 0.6
"""Trunk lengths across the picture between neighbours who are told apart by left and right: two who
stand shoulder to shoulder are about 0.8 apart."""
_APART_FOR_S = 0.5
_SAME_BODY = 0.25
"""Trunk lengths within which all of two poses lies that a network found on one body."""
_GONE_AFTER_S = 0.5
"""Unseen for longer, somebody may come back anywhere, and be measured anew."""
_BACK_AFTER_S = 0.3
"""How long a pose must be there before it is taken for the one person who is missing."""
_JOLT_S = 0.12
_JOLT = 0.35
"""Trunk lengths by which a trunk departs from its way within _JOLT_S: see `person_tracker`."""
_FAR_OFF = 1e3


@dataclass(slots=True, eq=False)
class _Way(Track):
    """One person's way through the picture, with where it led in the last moments."""

    past: deque[tuple[float, FloatArray]] = field(default_factory=deque)

    def see(self, place: Trunk, time_s: float, pose: Pose | None = None) -> None:
        """They were seen there."""
        Track.see(self, place, time_s, pose)
        self.past.append((time_s, place.middle))
        while len(self.past) > 2 and self.past[1][0] <= time_s - 2 * _JOLT_S:
            self.past.popleft()

    @property
    def jolted(self) -> bool:
        """Whether the trunk was set in motion faster than a body can."""
        times = [t for t, _ in self.past]
        if not times or times[-1] - times[0] < 2 * _JOLT_S:
            return False
        if max(after - before for before, after in pairwise(times)) > _JOLT_S:
            return False  # a gap leaves it open how the body got there
        at_s = np.array([times[-1] - 2 * _JOLT_S, times[-1] - _JOLT_S, times[-1]])
        spots = np.array([spot for _, spot in self.past])
        first, middle, last = np.stack([np.interp(at_s, times, s) for s in spots.T], axis=1)
        return float(np.linalg.norm(last - 2 * middle + first)) > _JOLT * self.place.size


class GroupTracker:
    """Keeps apart so many people, from 2 on."""

    def __init__(self, people: int) -> None:
        self._people = people
        self.forget()

    def forget(self) -> None:
        """Know nobody; they are numbered anew once all are seen apart."""
        self._ways: list[_Way | None] = [None] * self._people
        self._sure = False
        self._apart_since_s: float | None = None
        self._stranger: _Way | None = None

    def follow(self, poses: Sequence[Pose], time_s: float) -> tuple[Followed, ...]:
        """For everybody, by number, which of the poses of the next picture is theirs."""
        indices = _bodies(poses)
        places = [Trunk.of(poses[k]) for k in indices]
        order = self._order(places, time_s)
        if order is not None and not self._sure:
            self._sure = True
            self._ways = [_Way(places[p], time_s, time_s) for p in order]
            return tuple(Followed(indices[p], True, True) for p in order)
        taken, new = self._assigned(places, time_s)
        if self._sure and self._in_doubt(places, taken, time_s):
            self._sure, self._apart_since_s = False, None
        found: list[Followed] = []
        for number, way in enumerate(self._ways):
            p = taken.get(number)
            if p is None:
                found.append(Followed(None, self._sure))
                continue
            if way is None or number in new:
                self._ways[number] = _Way(places[p], time_s, time_s)
            else:
                way.see(places[p], time_s)
            found.append(Followed(indices[p], self._sure, number in new))
        return tuple(found)

    def _order(self, places: Sequence[Trunk], time_s: float) -> list[int] | None:
        """The places from left to right on a mirrored screen, once all are apart for a while."""
        order = sorted(range(len(places)), key=lambda p: -places[p].middle[0])
        apart = len(places) == self._people and all(
            _across(places[right], places[left]) >= _APART for left, right in pairwise(order)
        )
        if not apart:
            self._apart_since_s = None
        elif self._apart_since_s is None:
            self._apart_since_s = time_s
        since_s = self._apart_since_s
        return order if since_s is not None and time_s - since_s >= _APART_FOR_S else None

    def _assigned(
        self, places: Sequence[Trunk], time_s: float
    ) -> tuple[dict[int, int], frozenset[int]]:
        """Place by number, as fits best; and the numbers of those who are seen anew."""
        taken: dict[int, int] = {}
        if places:
            cost = np.full((self._people, len(places)), _FAR_OFF)
            for (number, way), (p, place) in itertools.product(
                enumerate(self._ways), enumerate(places)
            ):
                if way is None or time_s - way.seen_s > _GONE_AFTER_S:
                    continue
                if (fits := way.cost(place, time_s)) <= way.reach(time_s):
                    cost[number, p] = fits
            taken = {
                int(number): int(p)
                for number, p in zip(*linear_sum_assignment(cost), strict=True)
                if cost[number, p] < _FAR_OFF
            }
        new: set[int] = set()
        left_over = [p for p in range(len(places)) if p not in taken.values()]
        missing = [number for number in range(self._people) if number not in taken]
        if not self._sure:
            left_over.sort(key=lambda p: -places[p].middle[0])
            for number, p in zip(missing, left_over, strict=False):
                taken[number] = p
                new.add(number)
        elif len(missing) == 1 and len(left_over) == 1:
            if self._is_back(places[left_over[0]], time_s):
                taken[missing[0]] = left_over[0]
                new.add(missing[0])
        else:
            self._stranger = None
        return taken, frozenset(new)

    def _is_back(self, place: Trunk, time_s: float) -> bool:
        """Whether a pose that is nobody else's has been there long enough for the one missing."""
        stranger = self._stranger
        if stranger is None or stranger.cost(place, time_s) > stranger.reach(time_s):
            self._stranger = _Way(place, time_s, time_s)
            return False
        stranger.see(place, time_s)
        return time_s - stranger.began_s >= _BACK_AFTER_S

    def _in_doubt(self, places: Sequence[Trunk], taken: dict[int, int], time_s: float) -> bool:
        """Whether people may have been taken for one another, or may be when they are back."""
        ways = self._ways
        unseen = [
            number
            for number, way in enumerate(ways)
            if number not in taken and way is not None and time_s - way.seen_s > _GONE_AFTER_S
        ]
        if len(unseen) > 1:
            return True
        for number, p in taken.items():
            way = ways[number]
            if way is None:
                continue
            for other, their_way in enumerate(ways):
                if other == number or their_way is None:
                    continue
                theirs = taken.get(other)
                if theirs is not None and other < number:
                    continue  # that pair has been looked at
                if theirs is None and other in unseen:
                    continue  # they may be anywhere by now
                chosen, exchanged = way.cost(places[p], time_s), their_way.cost(places[p], time_s)
                least = _LEAST_COST
                if theirs is not None:
                    chosen += their_way.cost(places[theirs], time_s)
                    exchanged += way.cost(places[theirs], time_s)
                    least *= 2
                if exchanged < _CLEARLY_BETTER * max(chosen, least):
                    return True
        return any(
            way is not None and way.jolted for number, way in enumerate(ways) if number in taken
        )


def _across(one: Trunk, other: Trunk) -> float:
    """How far the other is to the right of the one, in trunk lengths of the larger."""
    return float(other.middle[0] - one.middle[0]) / max(one.size, other.size)


def _bodies(poses: Sequence[Pose]) -> list[int]:
    """Places in the list of poses that are bodies of their own: networks find some twice."""
    kept: list[int] = []
    for k, pose in enumerate(poses):
        if not np.isfinite(pose.image_px).all():
            continue
        size = Trunk.of(pose).size
        gaps = (
            np.median(np.linalg.norm(pose.image_px - poses[one].image_px, axis=1)) for one in kept
        )
        if all(gap > _SAME_BODY * size for gap in gaps):
            kept.append(k)
    return kept
