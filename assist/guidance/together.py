"""The assistant for a couple or a family: an assistant for each of them, and one word for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assist.distance.group_tracker import GroupTracker
from assist.distance.person_tracker import Followed
from assist.feed import Frame, Silence
from assist.guidance.advice import BESIDE_OTHERS
from assist.guidance.assistant import Assistant, Known, Moment
from assist.guidance.group import (
    Group,
    Member,
    Spokesman,
    joint_assessment,
    joint_framing,
)
from assist.guidance.guide import Action, Guidance, Reason, Why
from assist.pose import Glance, Pose, PoseDetector
from assist.setup.set_up import SetUp

_FACE_TURN_S = 0.25
"""How long each one's face is looked for before the next one's."""
_LOOKED_S = 1.0
"""How long a look round is news."""


class _Member(Assistant):
    """Thinks of one of several, being told whose pose is theirs.

    told: who that is in the next picture.   stature_m: as stated, None where it is not.
    """

    def __init__(
        self,
        set_up: SetUp,
        stature_m: float | None,
        detector: PoseDetector,
        *,
        forward_only: bool,
        known: Known,
        rotated_deg: int,
        live: bool,
    ) -> None:
        super().__init__(
            _for_one(set_up, stature_m),
            detector,
            forward_only=forward_only,
            known=known,
            rotated_deg=rotated_deg,
            live=live,
        )
        self._wanted = replace(self._wanted, spread=BESIDE_OTHERS)
        self.told = Followed(None, sure=True)
        self.stature_m = stature_m

    def _follow(
        self, frame: Frame, poses: list[Pose], glance: Glance | None
    ) -> tuple[Pose | None, bool]:
        """See `Assistant`."""
        del frame, glance
        if self.told.new:
            for part in (self._tracker, self._meter, self._watcher):
                part.forget()
        index = self.told.index
        return (None if index is None else poses[index]), self.told.sure


class TogetherAssistant:
    """Turns the frames of one feed into moments of several people, as many as the set-up says.

    It thinks of each as `Assistant` thinks of one, with their own stature. In focus is only what is
    in focus for all; what is told is the word of whoever has most to do.
    """

    def __init__(
        self,
        set_up: SetUp,
        detector: PoseDetector,
        *,
        forward_only: bool = False,
        known: Known | None = None,
        rotated_deg: int = 0,
        live: bool = False,
    ) -> None:
        people = set_up.together.people
        assert people is not None, "nobody is together in this set-up"
        self._detector = detector
        self._tracker = GroupTracker(people)
        self._spokesman = Spokesman()
        known = Known(feed=None if known is None else known.feed)
        self._all = [
            _Member(
                set_up,
                stature_m,
                detector,
                forward_only=forward_only,
                known=known,
                rotated_deg=rotated_deg,
                live=live,
            )
            for stature_m in set_up.together.statures_m or (None,) * people
        ]
        self._size_px = (0, 0)
        self._across_px = [-float(number) for number in range(people)]
        self._last: list[Moment] = []
        self._sure = False
        self._glance: Glance | None = None
        self._focal_doubted = False

    @property
    def focal_doubted(self) -> bool:
        """See `Assistant`."""
        return self._focal_doubted

    @focal_doubted.setter
    def focal_doubted(self, doubted: bool) -> None:
        self._focal_doubted = doubted
        for one in self._all:
            one.focal_doubted = doubted

    def see(self, frame: Frame) -> Moment:
        """Look at the next picture."""
        poses = self._detector.detect(frame.picture, frame.time_s)
        return self.think(frame, poses, self._detector.glance(wait=True))

    def think(
        self,
        frame: Frame,
        poses: list[Pose] | None,
        glance: Glance | None = None,
        age_s: float = 0.0,
    ) -> Moment:
        """What the poses found in a picture mean; None where the network failed at it.

        glance: what a look round for others has found since.   age_s: how old the picture is by
        now.

        Raises UserError where the first picture has another shape than the feed's profile.
        """
        height_px, width_px = frame.picture.shape[:2]
        if self._size_px != (width_px, height_px):
            self._tracker.forget()  # it knew them by their places in the other picture
            self._size_px = (width_px, height_px)
        if poses is not None:
            followed = self._tracker.follow(poses, frame.time_s)
            for one, found in zip(self._all, followed, strict=True):
                one.told = found
            self._sure = all(found.sure for found in followed)
            self._attend([poses[f.index] for f in followed if f.index is not None], frame.time_s)
        if glance is not None:
            self._glance = glance
        self._last = [one.think(frame, poses, age_s=age_s) for one in self._all]
        return self._joined(self._last, frame.time_s)

    def _attend(self, seen: Sequence[Pose], time_s: float) -> None:
        """Have the faces of all looked for in turn."""
        if seen:
            self._detector.attend(seen[int(time_s / _FACE_TURN_S) % len(seen)])

    def choose(self, number: int | None = None) -> None:
        """Nobody is chosen of several."""

    def choose_next(self) -> None:
        """Number them anew, from left to right on the mirrored screen."""
        self._tracker.forget()

    def ask_who(self) -> None:
        """Nobody is chosen of several."""

    def nothing_yet(self, now_s: float, silence: Silence = Silence.NOT_BEGUN) -> Moment:
        """The moment before the first picture, when that is long in coming; all is black."""
        return self._joined([o.nothing_yet(now_s, silence) for o in self._all], now_s)

    def withdraw(
        self,
        last: Moment,
        now_s: float,
        silence: Silence = Silence.STOPPED,
        behind_s: float | None = None,
    ) -> Moment:
        """The moment when nothing new has been seen for too long; see `Assistant.withdraw`."""
        each = self._last or [last] * len(self._all)
        told = [
            one.withdraw(moment, now_s, silence, behind_s)
            for one, moment in zip(self._all, each, strict=True)
        ]
        return replace(self._joined(told, now_s), frame=last.frame)

    # -- from each to all ---------------------------------------------------------------------

    def _joined(self, each: Sequence[Moment], time_s: float) -> Moment:
        """One moment of all."""
        members = self._members(each)
        told = self._spokesman.choose(members, time_s)
        if told is None:  # nobody is in view, or nothing is known of anybody
            nobody = replace(each[0], group=Group(members, None, self._sure))
            return replace(nobody, framed=False)
        group = Group(members, told.place, self._sure)
        doubt = _doubt_of_all(group, told)
        guidance = doubt or told.guidance
        glance = self._glance
        if group.all_seen and glance is not None and time_s - glance.time_s <= _LOOKED_S:
            # Where one of them is missing, it may be them who was seen.
            guidance = replace(guidance, others=len(glance.others))
        if doubt is not None or guidance.action is Action.HOLD:
            group = replace(group, told=None)
        return replace(
            each[told.number],
            assessment=joint_assessment(members, told, all_seen=group.all_seen),
            guidance=guidance,
            framing=joint_framing(members),
            framed=all(moment.framed for moment in each),
            group=group,
        )

    def _members(self, each: Sequence[Moment]) -> tuple[Member, ...]:
        """Everybody, by their places from the left of the mirrored screen."""
        for number, moment in enumerate(each):
            if moment.pose is not None:
                self._across_px[number] = float(moment.pose.image_px[:, 0].mean())
        order = sorted(range(len(each)), key=lambda number: -self._across_px[number])
        return tuple(
            Member(
                number,
                place,
                each[number].pose,
                each[number].assessment,
                each[number].guidance,
                each[number].framing,
                each[number].readiness,
                self._all[number].stature_m,
            )
            for place, number in enumerate(order, 1)
        )


def _for_one(set_up: SetUp, stature_m: float | None) -> SetUp:
    """The set-up of one of several, without what is known of one person alone."""
    person = set_up.person.model_copy(
        update={"stature_m": stature_m, "profile": None, "step_length_m": None, "without": ()}
    )
    return set_up.model_copy(update={"person": person})


def _doubt_of_all(group: Group, told: Member) -> Guidance | None:
    """What goes before what is told to one; None for nothing.

    Whoever walks must stop in time, whether the others are there or not.
    """
    if told.guidance.action is Action.STOP or (group.all_seen and group.sure):
        return None
    reason = Reason.WHO if group.all_seen else Reason.MISSING
    return Guidance(Action.NOT_SURE, None, Why(reason))
