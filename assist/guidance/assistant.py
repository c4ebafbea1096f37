"""The assistant's thinking, picture by picture: pose, person, distance, verdict, guidance.

It knows no camera, screen or file, and no words; a test can run it on arrays.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from assist.base.images import ColourImage
from assist.distance import BodyDistance, Choice, CueAbsent
from assist.distance.body_meter import BodyMeter
from assist.distance.person_tracker import Companion, PersonTracker
from assist.distance.reference import ReferenceView
from assist.distance.tracking import DistanceTracker
from assist.feed import Frame, Silence, Unfit
from assist.feed.frozen import FrozenWatch
from assist.guidance import advice
from assist.guidance.advice import (
    Advice,
    Exchanged,
    Sideways,
    TurnToCamera,
    WantedFraming,
)
from assist.guidance.countdown import Readiness
from assist.guidance.debounce import SteadyFraming, SteadyWord
from assist.guidance.doubts import DISBELIEVED, TO_BE_MENDED, Doubts
from assist.guidance.focus_plane import FocusPlane, Lesson
from assist.guidance.group import Group
from assist.guidance.guide import (
    TOLD_INSTEAD,
    Action,
    Guidance,
    Guide,
    Reason,
    Unmeasured,
    Why,
    withdrawn,
)
from assist.guidance.mirror_watch import MirrorWatch
from assist.guidance.taken_view import TakenView
from assist.guidance.teaching import MarkTeacher, Teaching, went
from assist.guidance.verdict import Assessment, Judge, Verdict
from assist.pose import Glance, Pose, PoseDetector
from assist.pose import framing as framing_check
from assist.pose.framing import Framing
from assist.pose.limbs import without
from assist.pose.person_state import PersonState, PersonWatcher
from assist.setup.body import Limb, Person
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import PersonalProfile
from assist.setup.set_up import SetUp
from optics.camera import PinholeCamera


@dataclass(frozen=True, slots=True)
class Moment:
    """All that is known about one picture; no pose, body or framing where no one is seen.

    pose: without belief in limbs that are not there.   framed: whether the picture may be taken as
    the person stands in it.
    teaching: how far teaching the mark has got, None where that is no news.
    sure_who: whether it is surely the person who is followed.   others: who else is in view.
    group: of several people together, each of them; the rest is then of the one who is told what to
    do, but for `assessment`, `framing` and `framed`, which are of all.
    """

    frame: Frame
    pose: Pose | None
    body: BodyDistance | None
    assessment: Assessment
    guidance: Guidance
    framing: Framing | None
    framed: bool = False
    person: PersonState = field(default_factory=PersonState)
    teaching: Teaching | None = None
    sure_who: bool = True
    others: tuple[Companion, ...] = ()
    group: Group | None = None

    @property
    def readiness(self) -> Readiness:
        """Whether all is right for the picture."""
        if self.group is not None:
            return self.group.readiness
        in_focus = self.assessment.verdict is Verdict.IN_FOCUS
        return Readiness(in_focus, self.framed, self.person.still)

    def without_picture(self) -> Moment:
        """The same moment without the picture's memory, for keeping many of them."""
        return replace(self, frame=replace(self.frame, picture=_NO_PICTURE))


_RECENT_S, _LEAST_RECENT = 1.0, 5
"""A view of somebody standing still is that of so many pictures in so long, at the least."""
_TRUNK_M = 0.5
"""From shoulders to hips, of most adults within a tenth. Common practice, no source."""
_NO_PICTURE: ColourImage = np.empty((0, 0, 3), np.uint8)


@dataclass(frozen=True, slots=True)
class _InPicture:
    """How somebody stands in the picture that will be taken, and the camera of that picture."""

    framing: Framing
    camera: PinholeCamera


@dataclass(frozen=True, slots=True)
class _Judged:
    """What is to be said of the distance.

    found: what this picture told, None where it was not looked at.
    body: where the body is by it, on the scale that the zone stands on.
    doubt: why the assessment is not to be relied on.
    unmeasured: why there is no distance of somebody who is in view.
    """

    found: BodyDistance | CueAbsent | None
    body: BodyDistance | None
    assessment: Assessment
    doubt: Reason | None
    unmeasured: Unmeasured | None


@dataclass(frozen=True, slots=True)
class Known:
    """What calibrations taught, and whom to follow when several people are in view."""

    person: PersonalProfile | None = None
    feed: FeedProfile | None = None
    follow: Choice = "first"


class Assistant:
    """Turns the frames of one feed into moments.

    rotated_deg: by how much the feed is turned already, clockwise.
    test_picture: to be set while the person stands where a test picture wants them.
    live: whether the feed is a camera's, whose picture never stands quite still.
    focal_doubted: to be set while something outside shows that the feed's focal length is not the
    one that distances are measured by; then nothing is said to be in focus.
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
        known, person = known or Known(), set_up.person
        self.focal_doubted = False
        self._detector = detector
        self._frozen = FrozenWatch() if live else None
        self._follower = PersonTracker(known.follow, self._trunk_on_the_mark_px)
        self._others: tuple[Companion, ...] = ()
        self._watcher = PersonWatcher(person.stated_posture, person.without, rotated_deg)
        geometry = FeedGeometry.of(set_up, known.feed, known.person)
        whom = Person(person.stature_m, known.person, person.stature_measured)
        self._meter = BodyMeter(geometry, whom)
        self._doubts = Doubts(whom, known.feed)
        self._mirror = MirrorWatch()
        self._put_right = geometry.mirrored
        self._tracker = DistanceTracker()
        self._zone = set_up.focus_zone  # worked out anew each time it is asked for
        self.plane = FocusPlane(self._zone, set_up.lens.focused_by)
        self.test_picture = False
        self._teacher = MarkTeacher()
        self._recent: deque[tuple[float, BodyDistance]] = deque()
        self._judge = Judge(self._zone, self.plane)
        self._view = TakenView(set_up)
        self._wanted = WantedFraming(set_up.framing.shot_size, set_up.framing.across)
        self._framed = SteadyFraming()
        self._steady = SteadyWord()
        self._guide = Guide(self._zone, step_m=person.step_m, forward_only=forward_only)

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
        self._guide.picture_age_s = age_s
        if poses is None:
            return self._blind(frame, Silence.UNSEEN)
        if not self._fits(frame):
            return self._blind(frame, Silence.SHAPE)
        pose, sure = self._follow(frame, poses, glance)
        if self._stands_still(frame, pose):
            return self._blind(frame, Silence.FROZEN)
        person = self._watcher.update(frame.time_s, pose)
        if pose is not None:
            pose = without(pose, person.absent)
        judged = self._judged(frame, pose, sure)
        self._learn(frame.time_s, judged, person, sure)
        there = self._in_picture(pose, judged.body, person.absent)
        allowed = None if there is None else self._allows(there.framing)
        word = self._word(frame.time_s, judged, person.turning, allowed)
        if (self._teacher.watching or self.test_picture) and pose is not None:
            word = Action.NOT_SURE  # no other order while they are to stand and be looked at
        guidance = self._guidance(word, judged, person, there)
        self._learn_sides(frame.time_s, guidance, judged.body, there, person)
        return Moment(
            frame,
            pose,
            judged.body,
            judged.assessment,
            replace(guidance, others=len(self._others)),
            None if there is None else there.framing,
            bool(allowed) and word is not Action.REFRAME,
            person,
            self._teacher.state(frame.time_s),
            sure,
            self._others,
        )

    # -- who it is ----------------------------------------------------------------------------

    def choose(self, number: int | None = None) -> None:
        """Follow who has that number among a moment's others; None: who is followed is right."""
        self._follower.choose(number)

    def choose_next(self) -> None:
        """Follow the next one in view, from left to right in the picture."""
        self._follower.choose_next()

    def ask_who(self) -> None:
        """Somebody else claims to be the person: not sure until one is chosen."""
        self._follower.ask()

    # -- the mark -----------------------------------------------------------------------------

    def teach_mark(self, time_s: float) -> None:
        """The person says that they stand on the mark: learn from how they are seen there."""
        self._teacher.ask(time_s, self.plane.reference)

    def void_mark(self, time_s: float) -> None:
        """The camera is not as it was: what was learned of the plane of focus holds no more."""
        self.plane.forget()
        self.refer()
        self._teacher.void(time_s)

    @property
    def camera(self) -> PinholeCamera:
        """The feed's camera, for pictures of the size of now; to be asked for after the first."""
        return self._meter.camera

    @property
    def teaching(self) -> bool:
        """Whether the mark is being taught."""
        return self._teacher.watching

    def _learn(self, time_s: float, judged: _Judged, person: PersonState, sure: bool) -> None:
        measured = judged.found if isinstance(judged.found, BodyDistance) else None
        if measured is not None and sure and person.still and person.faces_camera:
            self._recent.append((time_s, measured))
            while time_s - self._recent[0][0] > _RECENT_S:
                self._recent.popleft()
        else:
            self._recent.clear()
        view = self._teacher.update(time_s, measured, person, sure)
        if view is not None:
            self.plane.learn_mark(view)
            self.refer()

    def view_now(self, time_s: float) -> ReferenceView | None:
        """How the person was seen over the last second; None unless they stood still and alone."""
        while self._recent and time_s - self._recent[0][0] > _RECENT_S:
            self._recent.popleft()
        if len(self._recent) < _LEAST_RECENT:
            return None
        bodies = [body for _, body in self._recent]
        # Stillness is that of the picture; who walks along the axis hardly moves in it.
        return None if went(bodies) else ReferenceView.of(bodies)

    def learned_before(self, reference: ReferenceView, lessons: Sequence[Lesson]) -> None:
        """Go by what an earlier run learned of the same camera, set-up and person."""
        self.plane.learned_before(reference, lessons)
        self.refer()

    def refer(self) -> None:
        """Measure against the reference view of what has been learned, from now on."""
        self._meter.refer(self.plane.reference)

    # -- the stages ---------------------------------------------------------------------------

    def _fits(self, frame: Frame) -> bool:
        """Whether the picture can be measured in; made ready for its size where that has changed.

        Raises UserError where the very first one has another shape than the feed's profile.
        """
        if self._meter.fits(frame):
            return True
        self._follower.forget()  # it knew the person by their place in the other picture
        self._tracker.forget()  # and this one by another camera's measure
        return self._meter.refit(frame)

    def _stands_still(self, frame: Frame, pose: Pose | None) -> bool:
        """Whether a camera's picture of the person has stopped, be there a clock that runs."""
        if self._frozen is None:
            return False
        if pose is None:
            self._frozen.forget()
            return False
        return self._frozen.update(frame.time_s, frame.picture, pose.box_px)

    def _trunk_on_the_mark_px(self) -> float:
        """How large the trunk of somebody is who stands on the mark, pixels of the feed."""
        return max(1.0, self._meter.camera.fy_px * _TRUNK_M / self._zone.best_m)

    def _follow(
        self, frame: Frame, poses: list[Pose], glance: Glance | None
    ) -> tuple[Pose | None, bool]:
        """The followed person's pose, and whether it is surely theirs."""
        followed = self._follower.follow(poses, frame.time_s, frame.picture, glance)
        self._others = followed.others
        if followed.search_again:
            self._detector.search_again(followed.search_again)
        if followed.new:
            self._tracker.forget()
            self._meter.forget()
            self._watcher.forget()
            self._doubts.forget()
            self._mirror.forget()
        if followed.index is None:
            return None, True
        self._detector.attend(poses[followed.index])
        return poses[followed.index], followed.sure

    def _judged(self, frame: Frame, pose: Pose | None, sure_who: bool) -> _Judged:
        """Where the person is, tracked and judged."""
        found: BodyDistance | CueAbsent | None = None
        if frame.unfit is not None:
            self._tracker.forget()  # what was measured before may have had bars in it, too
        elif pose is not None:
            found = self._meter.measure(pose, frame.time_s)
        self._doubts.hear(frame.time_s, pose, found)
        body = found if isinstance(found, BodyDistance) else None
        assessment = self._judge.judge(self._tracker.update(frame.time_s, body))
        doubt = self._doubt(assessment, sure_who)
        unmeasured = None
        if pose is not None and assessment.distance is None:
            unmeasured = _why_unmeasured(found, frame.unfit)
        if unmeasured or (doubt is not None and assessment.distance is not None):
            assessment = assessment.doubted
        if doubt in TO_BE_MENDED:  # nothing of it is to be shown anywhere
            assessment = Assessment(Verdict.NOT_SURE)
        told = None if body is None else self.plane.told_body(body)
        return _Judged(found, told, assessment, doubt, unmeasured)

    def _doubt(self, assessment: Assessment, sure_who: bool) -> Reason | None:
        """Why the verdict is not to be relied on."""
        if not self._detector.network.measured:
            return Reason.NETWORK
        if not sure_who:
            return Reason.WHO
        if assessment.distance is None:
            return None
        small = Reason.SMALL_BODY if self._meter.seems_small else None
        zoomed = Reason.ZOOMED if self.focal_doubted else None
        maybe = assessment.verdict is Verdict.IN_FOCUS and self._meter.may_be_small
        return self._doubts.open or small or zoomed or (Reason.MAYBE_SMALL if maybe else None)

    def _in_picture(
        self, pose: Pose | None, body: BodyDistance | None, absent: Collection[Limb]
    ) -> _InPicture | None:
        """How the person stands in the picture that will be taken."""
        if pose is None:
            return None
        there, camera = self._view.of(pose, body, self._meter.camera)
        return _InPicture(framing_check.check(there, absent), camera)

    def _allows(self, framing: Framing) -> bool:
        """Whether the picture may be taken so, as far as is known what is in it."""
        return self._wanted.allows(framing) if self._view.known else "head" not in framing.cut

    def _word(self, time_s: float, judged: _Judged, turning: bool, allowed: bool | None) -> Action:
        """The word to show, steadied; `allowed` is None where nobody is seen."""
        action = self._guide.action(judged.assessment, turning)
        if not self._framed.update(time_s, allowed) and action is Action.HOLD:
            action = Action.REFRAME
        if judged.doubt in DISBELIEVED:
            action = Action.NOT_SURE  # where somebody walks to is not known, either
        return self._steady.update(time_s, action, self._guide.wrong_way(judged.assessment))

    def _guidance(
        self, word: Action, judged: _Judged, person: PersonState, there: _InPicture | None
    ) -> Guidance:
        """What they are to do, with further advice."""
        doubt = judged.doubt
        if doubt is None and word is Action.STOP and self._meter.may_be_small:
            # To stop is right, but not to be told that it will be sharp there.
            doubt = Reason.MAYBE_SMALL
        why = None if doubt is None else Why(doubt)
        if person.rotation_noticed:
            why = Why(Reason.ON_ITS_SIDE, rotate_deg=person.rotate_deg)
        if self.test_picture and word is Action.NOT_SURE:
            return self._guide.unmeasured(Unmeasured.TEST_PICTURE, why)
        if self._teacher.watching and word is Action.NOT_SURE:
            return self._guide.unmeasured(Unmeasured.LEARNING_MARK, why)
        if judged.unmeasured and word is Action.NOT_SURE:
            return self._guide.unmeasured(judged.unmeasured, why)
        if why is not None and why.reason in TOLD_INSTEAD and word is Action.NOT_SURE:
            return self._guide.disbelieved(why)
        further = self._advice(word, judged.body, there, person)
        return self._guide.guide(judged.assessment, person, word, further, why)

    def _learn_sides(
        self,
        time_s: float,
        guidance: Guidance,
        body: BodyDistance | None,
        there: _InPicture | None,
        person: PersonState,
    ) -> None:
        """Whether somebody who is told to go to one side goes to the other."""
        told = guidance.advice[0] if guidance.advice else None
        asked = guidance.action is Action.REFRAME and isinstance(told, Sideways)
        if not asked or body is None or there is None or not person.faces_camera:
            self._mirror.update(time_s, None, 0.0)
            return
        across = (there.framing.across - 0.5) * there.camera.width_px / there.camera.fx_px
        assert isinstance(told, Sideways)
        self._mirror.update(time_s, told, across * body.eyes_m)

    def _advice(
        self,
        word: Action,
        body: BodyDistance | None,
        there: _InPicture | None,
        person: PersonState,
    ) -> tuple[Advice, ...]:
        """What else would make the picture better, the most useful first."""
        if body is None or there is None:
            return ()
        found: list[Advice | None] = []
        if self._mirror.suspected:
            found.append(Exchanged(self._put_right))
        if word not in (Action.HOLD, Action.STOP):  # nobody is sent away who is to stay
            across_m = advice.across_m(there.framing, body.eyes_m, there.camera, self._wanted)
            if across_m is not None and person.facing_known and not self._mirror.suspected:
                found.append(advice.sideways(across_m, person.faces_camera))
            if cut := advice.cuts(there.framing, self._wanted):
                found.append(advice.CutOff(cut))
        if not person.faces_camera:
            found.append(TurnToCamera())
        if word in (Action.HOLD, Action.REFRAME):  # before that, all of the body is on its way
            found.append(advice.part_outside(body, self._zone))
        return tuple(one for one in found if one is not None)

    # -- without news -------------------------------------------------------------------------

    def _blind(self, frame: Frame, why: Silence) -> Moment:
        """The moment of a picture in which nobody can be seen: "no one" would be a guess."""
        nothing = replace(self.nothing_yet(frame.time_s), frame=frame)
        return self.withdraw(nothing, frame.time_s, why)

    def nothing_yet(self, now_s: float, silence: Silence = Silence.NOT_BEGUN) -> Moment:
        """The moment before the first picture, when that is long in coming; all is black."""
        black: ColourImage = np.zeros((360, 640, 3), np.uint8)
        nothing = self._judge.judge(None)
        return Moment(Frame(black, now_s, -1), None, None, nothing, withdrawn(silence), None)

    def withdraw(
        self,
        last: Moment,
        now_s: float,
        silence: Silence = Silence.STOPPED,
        behind_s: float | None = None,
    ) -> Moment:
        """The moment when nothing new has been seen for too long: nothing is claimed any more.

        behind_s: how old the feed's pictures are when they come, where that is why.
        """
        self._tracker.update(now_s, None)
        return replace(
            last,
            pose=None,
            body=None,
            assessment=self._judge.judge(None),
            guidance=withdrawn(silence, behind_s),
            framing=None,
            framed=False,
            person=self._watcher.unseen(now_s),
        )


def _why_unmeasured(found: BodyDistance | CueAbsent | None, unfit: Unfit | None) -> Unmeasured:
    if unfit is Unfit.BARS:
        return Unmeasured.BARS
    if unfit is Unfit.SIGNS:
        return Unmeasured.SIGNS
    if isinstance(found, CueAbsent):
        return Unmeasured.TOO_SMALL if found.too_small else Unmeasured.LITTLE_SEEN
    return Unmeasured.MEASURING
