"""Several people together: what each of them does, whose word is told, and what all come to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assist.guidance.countdown import Readiness
from assist.guidance.guide import Action, Guidance
from assist.guidance.verdict import Assessment, Verdict
from assist.pose import Pose
from assist.pose.framing import Framing

FEWEST, MOST = 2, 6
"""How many people can be told together: more do not stand side by side in a zone, nor would their
words come in time."""

_MUCH_MORE_M = 0.25
"""How much farther than the one who is told somebody else has to go to be told instead."""
_HOLDS_S = 1.0
"""How long the one who is told stays it, unless somebody must stop: time to read a name."""

_MOVES = (Action.FORWARD, Action.BACK, Action.AGAIN)
_SHOWS = ("head and shoulders", "waist-up", "knees-up", "full body")


@dataclass(frozen=True, slots=True)
class Member:
    """One of them at one moment.

    number: by which they are followed and their stature is known, from 0.
    place: where they stand among all, from 1 at the left of the mirrored screen.
    stature_m: as stated for them, None where it is not.
    """

    number: int
    place: int
    pose: Pose | None
    assessment: Assessment
    guidance: Guidance
    framing: Framing | None
    readiness: Readiness
    stature_m: float | None = None

    @property
    def seen(self) -> bool:
        """Whether they are in view, or were a moment ago."""
        return self.guidance.action not in (Action.NO_ONE, Action.NO_FEED)

    @property
    def urgency(self) -> tuple[int, float]:
        """How much they have to do: the kind of it, the weightier the higher, and how far, m."""
        action, to_mark_m = self.guidance.action, self.guidance.to_mark_m
        far_m = math.inf if to_mark_m is None else abs(to_mark_m)
        if action is Action.STOP:
            return 4, 0.0
        if action in _MOVES:
            return 3, far_m
        if action is Action.NOT_SURE:
            return 2, far_m
        return (1, 0.0) if action is Action.REFRAME else (0, far_m)


@dataclass(frozen=True, slots=True)
class Group:
    """All of them at one moment.

    members: by their places from the left of the mirrored screen.
    told: place of the one whom the guidance is for, None where it is for all.
    sure: whether it is known who is who.
    """

    members: tuple[Member, ...]
    told: int | None
    sure: bool

    @property
    def seen(self) -> int:
        """How many are in view."""
        return sum(member.seen for member in self.members)

    @property
    def all_seen(self) -> bool:
        """Whether everybody is in view."""
        return self.seen == len(self.members)

    @property
    def statures_differ(self) -> bool:
        """Whether it matters who stands where."""
        return len({member.stature_m for member in self.members}) > 1

    @property
    def numbered(self) -> bool:
        """Whether places mean something: of one alone nobody knows whom they stand left of."""
        return self.sure or self.all_seen

    @property
    def readiness(self) -> Readiness:
        """Whether all is right for the picture, for every one of them."""
        each = [member.readiness for member in self.members]
        return Readiness(
            all(one.in_focus for one in each),
            all(one.framed for one in each),
            all(one.still for one in each),
        )


class Spokesman:
    """Chooses the one of several whose word is told: who has most to do, but not by turns.

    "Stop" goes before all else, as it ends a walk and is over at once.
    """

    def __init__(self) -> None:
        self._number: int | None = None
        self._since_s = -math.inf

    def choose(self, members: Sequence[Member], time_s: float) -> Member | None:
        """The one to tell now; None where nobody is in view."""
        seen = [member for member in members if member.seen]
        if not seen:
            self._number = None
            return None
        best = max(seen, key=lambda member: member.urgency)
        now = next((member for member in seen if member.number == self._number), None)
        if now is None or self._gives_way(now, best, time_s):
            now, self._number, self._since_s = best, best.number, time_s
        return now

    def _gives_way(self, now: Member, best: Member, time_s: float) -> bool:
        (kind, far_m), (best_kind, best_m) = now.urgency, best.urgency
        if best_kind == kind:
            return best_m > far_m + _MUCH_MORE_M and time_s - self._since_s >= _HOLDS_S
        nothing_to_do = now.guidance.action in (Action.HOLD, Action.REFRAME)
        stop = best.guidance.action is Action.STOP
        return stop or nothing_to_do or time_s - self._since_s >= _HOLDS_S


def farthest(group: Group, otherwise: Assessment) -> Assessment:
    """What is known of whoever is farthest away."""
    known = [
        (distance.eyes_m, member.assessment)
        for member in group.members
        if (distance := member.assessment.distance) is not None
    ]
    return max(known, key=lambda one: one[0])[1] if known else otherwise


def joint_assessment(members: Sequence[Member], of: Member, *, all_seen: bool) -> Assessment:
    """What can be said of all: in focus only if every one of them is.

    of: whose distance it is. The probability that all are in focus is what it would be if nothing
    were wrong with all alike, which is the least it can be.
    """
    own = of.assessment
    within = math.prod(member.assessment.p_in_focus for member in members)
    verdicts = {member.assessment.verdict for member in members}
    if all_seen and verdicts == {Verdict.IN_FOCUS}:
        verdict = Verdict.IN_FOCUS
    elif not all_seen or own.verdict is Verdict.IN_FOCUS:
        verdict = Verdict.NOT_SURE
    else:
        verdict = own.verdict
    outside = own.p_too_near + own.p_too_far
    before = 0.5 if outside == 0 else own.p_too_near / outside
    rest = 1 - within if own.distance is not None else 0.0
    return Assessment(verdict, within, rest * before, rest * (1 - before), own.distance)


def joint_framing(members: Sequence[Member]) -> Framing | None:
    """How all fit the picture: the least that is shown of any, and all that is cut off."""
    each = [member.framing for member in members if member.framing is not None]
    if not each:
        return None
    across = [framing.across for framing in each]
    return Framing(
        min((framing.shows for framing in each), key=_SHOWS.index),
        tuple(dict.fromkeys(part for framing in each for part in framing.cut)),
        (min(across) + max(across)) / 2,
        min(framing.headroom for framing in each),
    )
