"""Holding on to one person while others come into view, and saying when it is no longer sure.

People are told apart by where they are: by the middle and the size of their trunk in the picture,
carried forward by how they moved. Everybody seen is carried forward, so that a pose which continues
somebody else's way is not taken for the followed person, and so that who has gone behind another is
remembered. When two are about equally near to where the person should be, as when they cross, the
nearest is followed but marked as not sure. That stays until nobody is left to be taken for, or
until their clothes tell: where the followed one's colours are known, and are not those of the other
two who have crossed can be told apart again. Whoever is dressed as somebody else is not believed.

A detector may also go over from one person to another who was hidden. Nobody is so quick: a pose
that leaps is held to be somebody else's, and followed only after a while, as somebody new and not
sure; one that slides, faster than a trunk can be set in motion, is not sure from there on.

Where several are in view from the start nobody knows who is meant: not sure, until one is chosen or
the others have gone. The same holds when somebody comes into view who stands nearer to the camera
than one who was never chosen: it may be the photographer, and the first a passer-by.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from assist.base.images import ColourImage
from assist.distance import Choice
from assist.distance.person_track import Track, Trunk, length
from assist.pose import Glance, Pose
from assist.pose.looks import Looks
from optics.checks import FloatArray

_CLEARLY_BETTER = 2.0
"""How many times nearer than the next candidate the followed one must be."""
_APART = 1.2
"""Trunk lengths between two people from which on they cannot be taken for one another."""
_UNCOVERED = 0.8
"""Trunk lengths between two people from which on each one's clothes are seen."""
_SURE_AFTER_S = 0.5
_STRAYED_S = 0.3
"""How long a pose must go on elsewhere, the followed one being gone, before it is followed."""
_FORGOTTEN_AFTER_S = 2.0
_HIDDEN_S = 3.0
"""How long somebody who vanished beside the followed person may still be behind them."""
_LOOKED_S = 1.0
"""How long somebody is reckoned with whom looks round saw, and then no longer."""
_LOST_S = 0.1
"""Whom the network has not seen for so long a look round may find instead."""
_START_S = 0.5
"""Whom a look round sees within this after the first one was in view from the start."""
_NEARER = 1.1
"""By how much larger somebody new is who stands nearer to the camera."""
_JOLT_S = 0.12
_JOLT = 0.35
"""Trunk lengths by which a trunk departs from its way within _JOLT_S: more than gravity would bring
about. Of people walking, bending and reaching it was at most 0.26, of a network that slid from one
to another 0.8 (`tests.benchmarks.two_people`; set on that footage)."""
_ALIKE, _STRANGE, _CLEARER = 0.35, 0.5, 0.15
"""How unlike the clothes of one person are from time to time at most, those of two people at least,
and by how much clothes must be more like one than like the other. On filmed people: 0.05 to 0.25
for one, 0.55 to 0.8 for two; of one turning as he walks up from afar up to 0.45."""
_UNIFORM = 0.3
"""How unlike the clothes of two at least must be who were seen side by side, to tell anything."""
_LIKE_S = 0.25
_STRANGE_S = 0.12
_ANOTHER_S = 0.3
"""How long clothes must be one's own to be sure again, another's to be doubted, and another's to be
held to be theirs."""
_COMPANY_S = 5.0
"""So long after somebody else was in view strange clothes can be theirs; later it is the light."""
_SEARCH_EVERY_S = 0.4
_AT_ONCE = 3
"""Counts as so many pictures of somebody whose looks have been seen for a while already."""


@dataclass(frozen=True, slots=True)
class Companion:
    """Somebody else in view; `number` is theirs as long as they are."""

    number: int
    pose: Pose


@dataclass(frozen=True, slots=True)
class Followed:
    """Who is followed in one picture.

    index: place in the list of poses, None when the person is not among them.
    sure: False when it may be another person.
    new: True when somebody is followed anew; filters of the one before should forget.
    others: who else is in view.
    search_again: the network follows these instead of the person, who is in view: it should search.
    """

    index: int | None
    sure: bool
    new: bool = False
    others: tuple[Companion, ...] = ()
    search_again: tuple[Pose, ...] = ()


class PersonTracker:
    """Keeps to one person; locks on the first seen, or on who was chosen.

    choice: whom of several that are in view from the start; of "first" nobody for sure.
    mark_px: for "nearest": how large a trunk is that stands on the mark, pixels.
    """

    def __init__(
        self, choice: Choice = "first", mark_px: Callable[[], float] | None = None
    ) -> None:
        self._choice = choice
        self._mark_px = mark_px
        self.forget()

    def forget(self) -> None:
        """Follow nobody; the next picture chooses anew."""
        self._mine: Track | None = None
        self._others: list[Track] = []
        self._doubt_s: float | None = None
        self._to_choose = False
        self._chosen = False
        self._new = False
        self._way: deque[tuple[float, FloatArray]] = deque()
        self._me = Track(Trunk(np.zeros(2), 1.0), 0.0, 0.0)  # how the person looks, wherever
        self._noticed: set[int] = set()
        self._in_uniform = False
        self._like_s: float | None = None
        self._strange_s: float | None = None
        self._company_s = -math.inf
        self._learnt_s = -math.inf
        self._searched_s = -math.inf
        self._first_s = -math.inf

    def follow(
        self,
        poses: Sequence[Pose],
        time_s: float,
        picture: ColourImage | None = None,
        glance: Glance | None = None,
    ) -> Followed:
        """Find the person among the poses of the next picture.

        picture: the one that the poses are in, for clothes to be told apart.
        glance: what a look round has found since.
        """
        if glance is not None:
            self._take_in(glance)
        if self._mine is not None and self._choice != "first" and not self._chosen:
            self._take_the_likeliest()
        index = self._find(poses, time_s, picture)
        new, self._new = self._new, False
        search = self._search(poses, index, time_s)
        return Followed(index, self._doubt_s is None, new, self._companions(time_s), search)

    # -- chosen -------------------------------------------------------------------------------

    def choose(self, number: int | None = None) -> None:
        """From now on follow who has that number among the others; None is who is followed now."""
        mine = self._mine
        if mine is None:
            return
        if number is None and self._doubt_s is None:
            self._chosen = True
            return
        other = next((o for o in self._others if o.number == number), None)
        if other is not None:
            self._others = [mine, *(o for o in self._others if o is not other)]
            mine.looks, mine.learnt = self._me.looks, self._me.learnt
            self._mine = other
            self._way.clear()
            self._new = True
            self._searched_s = -math.inf
        self._me.looks, self._me.learnt = None, 0
        if other is not None and other.likeness is not None:
            self._me.looks, self._me.learnt = other.likeness, max(other.learnt, other.looked)
        self._chosen, self._to_choose, self._doubt_s = True, False, None
        self._in_uniform = False
        self._like_s = self._strange_s = None

    def ask(self) -> None:
        """Not sure from now on, until one is chosen."""
        if self._mine is not None:
            self._to_choose, self._doubt_s = True, self._mine.seen_s

    def choose_next(self) -> None:
        """From now on follow the next one to the right in the picture, then from the left again."""
        mine = self._mine
        if mine is None:
            return
        there = [mine, *(o for o in self._others if o.known and o.pose is not None)]
        there.sort(key=lambda track: float(track.place.middle[0]))
        following = there[(there.index(mine) + 1) % len(there)]
        if following is mine:
            self.choose()
        else:
            self.choose(following.number)

    # -- beginning ----------------------------------------------------------------------------

    def _find(
        self, poses: Sequence[Pose], time_s: float, picture: ColourImage | None
    ) -> int | None:
        mine = self._mine
        self._drop_gone(time_s)
        lost = mine is not None and time_s - mine.seen_s > _FORGOTTEN_AFTER_S
        if lost and not self._others:
            self.forget()
        if not poses:
            if mine is not None and self._first_guess(mine):
                self.forget()
            return None
        if self._mine is None:
            return self._first(poses, time_s)
        mine = self._mine
        places = [Trunk.of(p) for p in poses]
        costs = [mine.cost(place, time_s) for place in places]
        unseen_s = time_s - mine.seen_s
        index = self._assign(poses, places, time_s)
        if index is None:
            return self._missing(poses, time_s, picture)
        mine.pose = poses[index]
        if self._jolted(time_s):
            # Whom it was before is taken to be hidden where they were.
            before = Trunk(self._way[0][1], mine.place.size)
            hidden = Track(before, time_s, time_s - 1e-3, 5, beside=True)
            self._others = [*self._others, hidden]
            self._doubt_s = time_s
            self._way.clear()
        looks = None if picture is None else Looks.of(picture, poses[index])
        if picture is not None:
            self._learn_others(picture, time_s)
        self._doubt(costs, index, unseen_s, time_s)
        self._go_by_looks(looks, time_s)
        return index if self._mine is mine else None

    def _first_guess(self, mine: Track) -> bool:
        """Whether it may be a slip of the detector that has been locked on."""
        return not mine.known and not self._chosen and self._me.likeness is None

    def _first(self, poses: Sequence[Pose], time_s: float) -> int:
        # The first seen: where several are, the largest is the likeliest to have set it up.
        places = [Trunk.of(p) for p in poses]
        index = int(np.argmax([self._rank(place) for place in places]))
        tracks = [
            Track(place, time_s, time_s, pose=pose)
            for place, pose in zip(places, poses, strict=True)
        ]
        self._mine = tracks.pop(index)
        self._first_s = time_s
        # Whom a look round found at the same place is the same.
        seen = [o for o in self._others if o.gap(places[index], time_s) > _UNCOVERED]
        self._others = [*tracks, *seen]
        self._way.clear()
        self._new = True
        if len(poses) > 1 and self._choice == "first":
            self._doubt_s = time_s
            self._to_choose = True
        return index

    def _rank(self, place: Trunk) -> float:
        """The higher, the likelier to be the one that is meant."""
        if self._choice == "nearest" and self._mark_px is not None:
            return -abs(math.log(place.size / self._mark_px()))
        return place.size

    def _take_the_likeliest(self) -> None:
        """Of those in view from the start follow the one that is to be followed."""
        mine = self._mine
        assert mine is not None
        for other in tuple(self._others):
            if other.number in self._noticed or not other.looked or other.pose is None:
                continue
            self._noticed.add(other.number)
            from_start = abs(other.began_s - self._first_s) < _START_S
            if from_start and self._rank(other.place) > self._rank(mine.place):
                self.choose(other.number)
                return

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
        return length(last - 2 * middle + first) > _JOLT * self._mine.place.size

    # -- going on -----------------------------------------------------------------------------

    def _assign(self, poses: Sequence[Pose], places: Sequence[Trunk], time_s: float) -> int | None:
        """Give each pose to the track it fits best; the followed person's pose, if there is one."""
        assert self._mine is not None
        tracks = [self._mine, *self._others]
        taken = _fitted(tracks, places, time_s)
        for t, p in taken.items():
            tracks[t].see(places[p], time_s, poses[p])
        self._others += [
            Track(place, time_s, time_s, pose=poses[p])
            for p, place in enumerate(places)
            if p not in taken.values()
        ]
        self._mark_beside(time_s)
        return taken.get(0)

    def _take_in(self, glance: Glance) -> None:
        """Add what a look round has found to what is known of the others.

        The look covers whom the network followed then: the person only where it had lost them.
        """
        mine, time_s = self._mine, glance.time_s
        lost = mine is not None and time_s - mine.seen_s > _LOST_S
        tracks = [mine, *self._others] if mine is not None and lost else list(self._others)
        places = [Trunk.of(someone.pose) for someone in glance.others]
        taken = _fitted(tracks, places, time_s)
        if mine is not None and lost and 0 not in taken:
            # Out of reach of where they should be, but dressed as nobody else.
            for p, someone in enumerate(() if self._in_uniform else glance.others):
                unlike = self._me.unlike(someone.looks)
                if unlike is not None and unlike < _ALIKE - 0.1:
                    rivals = [r for t in self._others if (r := t.unlike(someone.looks)) is not None]
                    if min(rivals, default=1.0) - unlike > _CLEARER:
                        taken = {t: q for t, q in taken.items() if q != p}
                        taken[0] = p
                        break
        for t, p in taken.items():
            track, someone = tracks[t], glance.others[p]
            if track.seen_s < time_s:
                track.look_at(places[p], time_s, someone.pose)
                if track is not mine and self._clear_of_mine(places[p], time_s):
                    track.learn(someone.looks, 0.3)
        for p, someone in enumerate(glance.others):
            if p not in taken.values():
                found = Track(places[p], time_s, time_s, 0, 1, time_s, pose=someone.pose)
                if self._clear_of_mine(places[p], time_s):
                    found.learn(someone.looks, 0.3)
                self._others.append(found)
        self._mark_beside(time_s)

    def _clear_of_mine(self, place: Trunk, time_s: float) -> bool:
        return self._mine is None or self._mine.gap(place, time_s) > _UNCOVERED

    def _mark_beside(self, time_s: float) -> None:
        """Remember of who is seen now whether they are beside the followed person."""
        mine = self._mine
        if mine is None:
            return
        middle, size = mine.expected(time_s), mine.place.size
        for other in self._others:
            if other.seen_s == time_s:
                other.beside = length(other.place.middle - middle) / size < _APART

    def _drop_gone(self, time_s: float) -> None:
        self._others = [o for o in self._others if time_s - o.seen_s <= _kept_s(o)]
        if any(o.known for o in self._others):
            self._company_s = time_s
        elif time_s - self._company_s > _COMPANY_S:
            self._in_uniform = False

    def _companions(self, time_s: float) -> tuple[Companion, ...]:
        return tuple(
            Companion(o.number, o.pose)
            for o in self._others
            if o.known and o.pose is not None and time_s - o.seen_s <= _LOOKED_S
        )

    def _missing(
        self, poses: Sequence[Pose], time_s: float, picture: ColourImage | None
    ) -> int | None:
        """The followed person is not among the poses."""
        mine = self._mine
        assert mine is not None
        if self._first_guess(mine):
            self.forget()
            return self._first(poses, time_s)
        now = [o for o in self._others if o.seen_s == time_s and o.pose is not None]
        elsewhere = mine.looked_s == mine.seen_s and time_s - mine.seen_s < _LOOKED_S
        dressed = None
        if picture is not None and not elsewhere:
            dressed = self._dressed_so(now, picture)
        if dressed is not None:
            # Nobody is left where the person was thought to be.
            index = self._go_on_with(dressed, poses, time_s)
            self._others = [o for o in self._others if o.pose is not None]
            return index
        lost = time_s - mine.seen_s > _FORGOTTEN_AFTER_S
        strayed = [
            o
            for o in now
            if lost
            or (
                o.began_s > mine.seen_s
                and o.known
                and time_s - o.began_s >= _STRAYED_S
                and (self._me.unlike(o.likeness) or 0.0) < _STRANGE
            )
        ]
        if not strayed:
            return None
        if lost and all(o.began_s > mine.seen_s + _SURE_AFTER_S for o in self._others):
            # All had left: it begins anew.
            self.forget()
            return self._first(poses, time_s)
        # The pose may be theirs, or of somebody else who was there all the time.
        return self._go_on_with(max(strayed, key=lambda o: o.place.size), poses, time_s)

    def _go_on_with(self, chosen: Track, poses: Sequence[Pose], time_s: float) -> int:
        """Follow who was held to be another, and not sure; the index of their pose."""
        mine = self._mine
        assert mine is not None
        self._others = [o for o in self._others if o is not chosen]
        mine.beside = True
        mine.pose = None
        self._others.append(mine)
        self._mine = chosen
        self._way.clear()
        self._doubt_s = time_s
        self._like_s = self._strange_s = None
        self._new = True
        return next(k for k, pose in enumerate(poses) if pose is chosen.pose)

    def _dressed_so(self, seen: Sequence[Track], picture: ColourImage) -> Track | None:
        """Who of those seen is dressed as the person is, and as none of the others."""
        for track in () if self._in_uniform else seen:
            assert track.pose is not None
            looks = Looks.of(picture, track.pose)
            unlike = self._me.unlike(looks)
            if looks is None or unlike is None or unlike >= _ALIKE:
                continue
            rivals = [r for o in self._others if o is not track and (r := o.unlike(looks))]
            if min(rivals, default=1.0) - unlike > _CLEARER:
                return track
        return None

    # -- doubting -----------------------------------------------------------------------------

    def _doubt(self, costs: Sequence[float], index: int, unseen_s: float, time_s: float) -> None:
        """Begin doubting who is who, the person having been found, or end it by their places."""
        mine = self._mine
        assert mine is not None
        others = [o for o in self._others if o.known or o.seen_s == time_s]
        rivals = [cost for k, cost in enumerate(costs) if k != index]
        # Who is hidden is where they were going.
        rivals += [
            length(o.expected(time_s) - mine.place.middle) / mine.place.size
            for o in others
            if o.seen_s < time_s
        ]
        rival = min(rivals, default=math.inf)
        # After a gap the person may have changed places with whoever is there now.
        gap = unseen_s > _SURE_AFTER_S and bool(others)
        mixed_up = self._near(time_s) < _APART and rival < _CLEARLY_BETTER * max(costs[index], 0.1)
        unsure = self._doubt_s is not None
        if self._somebody_to_choose(time_s):
            self._to_choose = True
            self._doubt_s = time_s
        elif gap or mixed_up:
            self._doubt_s = time_s
            self._like_s = None
        elif unsure and others:
            self._doubt_s = time_s
        elif unsure and time_s - (self._doubt_s or 0.0) > _SURE_AFTER_S and self._strange_s is None:
            # Alone for a while: there is nobody left to be taken for.
            self._doubt_s = None
            self._to_choose = False

    def _near(self, time_s: float, others: Sequence[Track] | None = None) -> float:
        """How near the nearest other one is, trunk lengths."""
        mine = self._mine
        assert mine is not None
        return min(
            (
                length(o.expected(time_s) - mine.place.middle) / mine.place.size
                for o in (self._others if others is None else others)
                if o.known or o.seen_s == time_s
            ),
            default=math.inf,
        )

    def _somebody_to_choose(self, time_s: float) -> bool:
        """Whether somebody has just come to notice who may be the one that is meant."""
        mine = self._mine
        assert mine is not None
        if self._chosen or self._choice != "first":
            return False
        found: bool | int = False
        for other in self._others:
            from_start = other.looked and abs(other.began_s - self._first_s) < _START_S
            seen = (other.known or from_start) and other.pose is not None
            if other.number in self._noticed or not seen:
                continue
            self._noticed.add(other.number)
            found = found or from_start or other.place.size > _NEARER * mine.place.size
        return bool(found)

    def _go_by_looks(self, looks: Looks | None, time_s: float) -> None:
        """Let clothes begin and end doubt, and tell the person from another."""
        if looks is None:
            return
        # Who was seen nowhere else lately is no reason to mistrust clothes: they are in view.
        seen = [o for o in self._others if o.pose is not None and time_s - o.seen_s < _LOOKED_S]
        near = self._near(time_s, seen)
        mine, rival = self._me.unlike(looks), self._rival(looks)
        if mine is None:
            if self._doubt_s is None and near > _UNCOVERED:
                self._learn(looks, time_s)
            return
        told = rival is None or not any(o.known and o.likeness is None for o in seen)
        like = mine < _ALIKE and (rival is None or rival[0] - mine > _CLEARER) and told
        like = like and not self._in_uniform
        anothers = rival is not None and mine - rival[0] > _CLEARER
        company = self._doubt_s is not None or time_s - self._company_s < _COMPANY_S
        strange = anothers or (mine > _STRANGE and company)
        self._like_s = _since(self._like_s, like and near > _UNCOVERED, time_s)
        self._strange_s = _since(self._strange_s, strange, time_s)
        if self._strange_s is not None and time_s - self._strange_s >= _STRANGE_S:
            self._doubt_s = time_s
            if time_s - self._strange_s >= _ANOTHER_S:
                self._go_to_who_looks_so(mine, rival if anothers else None, looks, time_s)
        elif self._like_s is not None and time_s - self._like_s >= _LIKE_S and not self._to_choose:
            self._doubt_s = None
        if self._doubt_s is None and not strange and near > _UNCOVERED:
            self._learn(looks, time_s)
            self._in_uniform = self._in_uniform or any(
                (self._me.unlike(o.likeness) or 1.0) < _UNIFORM
                for o in self._others
                if o.known and o.pose is not None and time_s - o.seen_s < _LOOKED_S / 2
            )

    def _learn(self, looks: Looks, time_s: float) -> None:
        self._me.learn(looks, min(1.0, max(0.0, time_s - self._learnt_s)))
        self._learnt_s = time_s

    def _learn_others(self, picture: ColourImage, time_s: float) -> None:
        """How those look whom the network itself reports besides the person."""
        for other in self._others:
            seen = other.seen_s == time_s and other.pose is not None
            if seen and self._clear_of_mine(other.place, time_s):
                assert other.pose is not None
                other.learn(Looks.of(picture, other.pose), 0.05)

    def _rival(self, looks: Looks) -> tuple[float, Track] | None:
        """Who of the others is dressed most like that, and how unlike they are."""
        unlikes = ((other.unlike(looks), other) for other in self._others)
        known = [(unlike, other) for unlike, other in unlikes if unlike is not None]
        return min(known, key=lambda pair: pair[0], default=None)

    def _go_to_who_looks_so(
        self,
        unlike: float,
        rival: tuple[float, Track] | None,
        looks: Looks,
        time_s: float,
    ) -> None:
        """Who is followed is somebody else: go over to whoever looks like the person, if any does.

        unlike: how unlike the person the followed one is, who looks like that.   rival: who is
        dressed as the followed one is: then the two have changed places.
        """
        mine, me = self._mine, self._me.likeness
        assert mine is not None
        known = [(me.unlike(o.likeness), o) for o in self._others if me and o.likeness and o.pose]
        best, other = min(known, key=lambda pair: pair[0], default=(math.inf, mine))
        if self._in_uniform:
            return
        if best < _ALIKE and unlike - best > _CLEARER:
            mine.looks, mine.learnt = looks, _AT_ONCE
        elif rival is not None:
            other = rival[1]
            for hidden in (o for o in self._others if o.pose is None):  # that was the person
                other.place, other.velocity = hidden.place, hidden.velocity
            mine.looks, mine.learnt = other.looks, other.learnt
            mine.number, other.number = other.number, mine.number
        else:
            return
        other.looks, other.learnt = None, 0
        self._mine = other
        seen = (o for o in self._others if o is not other and o.pose is not None)
        self._others = [mine, *seen]
        self._way.clear()
        self._like_s = self._strange_s = None
        self._doubt_s = time_s
        self._new = True

    # -- searching ----------------------------------------------------------------------------

    def _search(self, poses: Sequence[Pose], index: int | None, time_s: float) -> tuple[Pose, ...]:
        """Whom the network should let go, the person being elsewhere in view."""
        mine = self._mine
        if mine is None or index is not None or len(poses) != 1:
            return ()
        seen_elsewhere = mine.looked_s >= mine.seen_s and time_s - mine.seen_s < _LOOKED_S
        if not seen_elsewhere or time_s - self._searched_s < _SEARCH_EVERY_S:
            return ()
        self._searched_s = time_s
        return tuple(poses)


def _fitted(tracks: Sequence[Track], places: Sequence[Trunk], time_s: float) -> dict[int, int]:
    """Which place is whose: by number of the track, the best fits first."""
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
    return taken


def _since(since_s: float | None, holds: bool, time_s: float) -> float | None:
    """Since when something holds, now that it does or does not."""
    if not holds:
        return None
    return time_s if since_s is None else since_s


def _between(way: Sequence[tuple[float, FloatArray]], time_s: float) -> FloatArray:
    """Where a way led at a time within it; its end after it."""
    for (before_s, before), (after_s, after) in pairwise(way):
        if time_s < after_s:
            share = (time_s - before_s) / (after_s - before_s)
            return np.asarray(before + share * (after - before))
    return way[-1][1]


def _kept_s(track: Track) -> float:
    """How long somebody unseen is still reckoned with."""
    if track.beside and track.known:
        return _HIDDEN_S
    return _LOOKED_S if track.looked else _SURE_AFTER_S
