"""The assistant's thinking, picture by picture: pose, distance, verdict, guidance.

It knows no camera, screen or file; a test can run it on arrays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.phrases import Phrases
from assist.distance import BodyDistance, CueAbsent
from assist.distance.engine import DistanceEngine
from assist.distance.offset import seen_from_taking
from assist.distance.person_tracker import Choice, PersonFollower
from assist.distance.tracking import DistanceTracker
from assist.feed import Frame, Silence, Unfit
from assist.guidance import advice
from assist.guidance.advice import Wanted
from assist.guidance.countdown import Readiness
from assist.guidance.debounce import SteadyFacing, SteadyFraming, SteadyWord
from assist.guidance.guide import (
    NO_ADVICE,
    Action,
    Advice,
    Guidance,
    Guide,
    Unmeasured,
    withdrawn,
)
from assist.guidance.taken_view import TakenView
from assist.guidance.verdict import Assessment, Judge, Verdict
from assist.pose import Pose, PoseDetector
from assist.pose import framing as framing_check
from assist.pose.facing import TurnWatch
from assist.pose.framing import Framing
from assist.pose.limbs import LimbWatch, without
from assist.pose.picture_rotation import TurnedWatch
from assist.pose.posture import PostureWatch
from assist.pose.stillness import Stillness
from assist.setup.body import Limb, Person, Posture
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import PersonalProfile
from assist.setup.set_up import SetUp
from optics.camera import PinholeCamera


@dataclass(frozen=True, slots=True)
class Moment:
    """All that is known about one picture; no pose, body or framing where no one is seen.

    pose: without belief in limbs that are not there.   framed: whether the picture may be taken as
    the person stands in it.   rotate_deg: what the feed would have to be turned by if its picture
    lies on its side, as it seems to; None where it does not.
    """

    frame: Frame
    pose: Pose | None
    body: BodyDistance | None
    assessment: Assessment
    guidance: Guidance
    framing: Framing | None
    framed: bool = False
    still: bool = False
    posture: Posture = Posture.NOT_SURE
    rotate_deg: int | None = None

    @property
    def readiness(self) -> Readiness:
        """Whether all is right for the picture."""
        return Readiness(self.assessment.verdict is Verdict.IN_FOCUS, self.framed, self.still)

    def without_picture(self) -> Moment:
        """The same moment without the picture's memory, for keeping many of them."""
        return replace(self, frame=replace(self.frame, picture=_NO_PICTURE))


_NO_PICTURE: ColourImage = np.empty((0, 0, 3), np.uint8)


@dataclass(frozen=True, slots=True)
class _Seen:
    """How somebody stands in the picture that will be taken, and the camera of that picture."""

    framing: Framing
    camera: PinholeCamera


def _why_unmeasured(found: BodyDistance | CueAbsent | None) -> Unmeasured:
    if isinstance(found, CueAbsent):
        return "too_small" if found.too_small else "unmeasured"
    return "measuring"


@dataclass(frozen=True, slots=True)
class Known:
    """What calibrations taught, and whom to follow when several people are in view."""

    person: PersonalProfile | None = None
    feed: FeedProfile | None = None
    follow: Choice = "first"


class Assistant:
    """Turns the frames of one feed into moments.

    rotated_deg: by how much the feed is turned already, clockwise.
    focal_doubted: to be set while something outside shows that the feed's focal length is not the
    one that distances are measured by; then nothing is said to be in focus.
    """

    def __init__(
        self,
        set_up: SetUp,
        detector: PoseDetector,
        phrases: Phrases | None = None,
        *,
        forward_only: bool = False,
        known: Known | None = None,
        rotated_deg: int = 0,
    ) -> None:
        self._detector = detector
        self._rotated_deg = rotated_deg
        self._turned = TurnedWatch()
        known = known or Known()
        self._geometry = FeedGeometry.of(set_up, known.feed, known.person)
        self._person = Person(set_up.person.stature_m, known.person)
        self._follower = PersonFollower(known.follow)
        self.focal_doubted = False
        self._engine: DistanceEngine | None = None
        self._camera: PinholeCamera | None = None
        self._wanted = Wanted(set_up.framing.shot_size, set_up.framing.across)
        self._view = TakenView(set_up)
        self._framed = SteadyFraming()
        self._steady = SteadyWord()
        self._facing = SteadyFacing()
        self._turning = TurnWatch()
        self._posture = PostureWatch(set_up.person.stated_posture)
        self._limbs = LimbWatch(set_up.person.without)
        self._size_px = (0, 0)
        self._phrases = phrases or Phrases.load()
        self._tracker = DistanceTracker()
        self._zone = set_up.focus_zone  # worked out anew each time it is asked for
        self._judge = Judge(self._zone)
        self._stillness = Stillness()
        self._guide = Guide(
            self._zone,
            self._phrases,
            step_m=set_up.person.step_m,
            forward_only=forward_only,
        )

    def see(self, frame: Frame) -> Moment:
        """Look at the next picture."""
        return self.think(frame, self._detector.detect(frame.picture, frame.time_s))

    def _blind(self, frame: Frame, why: Silence) -> Moment:
        """The moment of a picture in which nobody can be seen: "no one" would be a guess."""
        nothing = replace(self.nothing_yet(frame.time_s), frame=frame)
        return self.withdraw(nothing, frame.time_s, why)

    def _fits(self, frame: Frame) -> bool:
        """Whether the picture can be measured in; made ready for its size where that has changed.

        Raises UserError where the very first one has another shape than the feed's profile.
        """
        height, width = frame.picture.shape[:2]
        if frame.unfit is not Unfit.SHAPE and self._size_px == (width, height):
            return True
        first = self._engine is None
        self._size_px = (0, 0)
        self._follower.forget()  # it knew the person by their place in the other picture
        self._tracker.forget()  # and this one by another camera's measure
        if frame.unfit is Unfit.SHAPE:
            return False
        try:
            self._camera = self._geometry.camera(width, height)
        except UserError:
            if first:
                raise
            return False
        self._size_px = (width, height)
        self._engine = DistanceEngine(
            self._camera, self._person, focal_sd=self._geometry.distance_sd
        )
        return True

    def think(self, frame: Frame, poses: list[Pose] | None) -> Moment:
        """What the poses found in a picture mean; None where the network failed at it.

        Raises UserError where the first picture has another shape than the feed's profile.
        """
        if poses is None:
            return self._blind(frame, Silence.UNSEEN)
        if not self._fits(frame):
            return self._blind(frame, Silence.SHAPE)
        assert self._engine is not None
        followed = self._follower.follow(poses, frame.time_s)
        if followed.new:
            self._tracker.forget()
            self._engine.forget()
            self._posture.forget()
            self._limbs.forget()
        pose = None if followed.index is None else poses[followed.index]
        absent = self._limbs.update(frame.time_s, pose)
        if pose is not None:
            pose = without(pose, absent)
        posture = self._posture.update(frame.time_s, pose)
        found: BodyDistance | CueAbsent | None = None
        if pose is not None and frame.unfit is None:
            found = self._measure(pose, frame.time_s)
        body = found if isinstance(found, BodyDistance) else None
        assessment = self._judge.judge(self._tracker.update(frame.time_s, body))
        doubt = self._doubt(self._engine, assessment, pose is None or followed.sure)
        unmeasured = pose is not None and assessment.distance is None
        if unmeasured or (doubt is not None and assessment.distance is not None):
            assessment = assessment.doubted
        seen = None if pose is None else self._in_picture(pose, body, absent)
        framing = None if seen is None else seen.framing
        facing = self._faces_camera(frame.time_s, pose)
        sides_known = self._facing.update(frame.time_s, None if pose is None else facing)
        turning = self._turning.update(frame.time_s, pose)
        action = self._guide.action(assessment, turning)
        allowed = None if framing is None else self._allows(framing)
        if not self._framed.update(frame.time_s, allowed) and action is Action.HOLD:
            action = Action.REFRAME
        if doubt in ("why.stature", "why.zoom"):
            action = Action.NOT_SURE  # where somebody walks to is not known, either
        word = self._steady.update(frame.time_s, action)
        if doubt is None and word is Action.STOP and self._engine.may_be_small:
            doubt = "why.face"  # to stop is right, but not to be told that it will be sharp there
        if unmeasured and word is Action.NOT_SURE:
            bars = frame.unfit is Unfit.BARS
            guidance = self._guide.unmeasured("bars" if bars else _why_unmeasured(found))
        else:
            also = self._advice(word, body, seen, facing, sides_known)
            guidance = self._guide.guide(assessment, facing, word, also, posture)
        return Moment(
            frame,
            pose,
            body,
            assessment,
            self._explained(guidance, doubt, frame.time_s, pose),
            framing,
            bool(allowed) and word is not Action.REFRAME,
            self._stillness.update(frame.time_s, pose),
            posture,
            self._rotate_deg(),
        )

    def _faces_camera(self, time_s: float, pose: Pose | None) -> bool:
        """Whether they do; in a picture on its side nothing tells, and nobody is told to turn."""
        self._turned.update(time_s, pose)
        if pose is None or self._turned.turn_deg is not None:
            return True
        return framing_check.faces_camera(pose)

    def _explained(
        self, guidance: Guidance, doubt: str | None, time_s: float, pose: Pose | None
    ) -> Guidance:
        """With the reason that matters more than what was measured, where there is one."""
        if pose is not None and self._turned.just_noticed(time_s):
            why = self._phrases.text("why.turned", degrees=self._rotate_deg())
        elif doubt is not None:
            why = self._phrases.text(doubt)
        else:
            return guidance
        return replace(guidance, why=why)

    def _rotate_deg(self) -> int | None:
        """What `--rotate` would have to be if the picture lies on its side; None if it does not."""
        turn_deg = self._turned.turn_deg
        return None if turn_deg is None else (self._rotated_deg + turn_deg) % 360

    def _doubt(self, engine: DistanceEngine, assessment: Assessment, sure_who: bool) -> str | None:
        """Why the verdict is not to be relied on, as the key of a phrase."""
        if not sure_who:
            return "why.who"
        if assessment.distance is not None and engine.seems_small:
            return "why.stature"
        if assessment.distance is not None and self.focal_doubted:
            return "why.zoom"
        if assessment.verdict is Verdict.IN_FOCUS and engine.may_be_small:
            return "why.face"
        return None

    def _measure(self, pose: Pose, time_s: float) -> BodyDistance | CueAbsent:
        """Where the body is, as the taking camera sees it, or why that cannot be told."""
        assert self._engine is not None
        assert self._camera is not None
        measured = self._engine.measure(pose, time_s)
        offset = self._geometry.offset
        if offset is None or isinstance(measured, CueAbsent):
            return measured
        return seen_from_taking(measured, pose, self._camera, offset)

    def _in_picture(self, pose: Pose, body: BodyDistance | None, absent: frozenset[Limb]) -> _Seen:
        """How the person stands in the picture that will be taken."""
        assert self._camera is not None
        there, camera = self._view.of(pose, body, self._camera)
        return _Seen(framing_check.check(there, absent), camera)

    def _allows(self, framing: Framing) -> bool:
        """Whether the picture may be taken so, as far as is known what is in it."""
        return self._wanted.allows(framing) if self._view.known else "head" not in framing.cut

    def _advice(
        self,
        word: Action,
        body: BodyDistance | None,
        seen: _Seen | None,
        facing: bool,
        sides_known: bool,
    ) -> Advice:
        """Further advice."""
        if body is None or seen is None:
            return NO_ADVICE
        across_m = None
        if sides_known:
            across_m = advice.across_m(seen.framing, body.eyes_m, seen.camera, self._wanted)
        still = word in (Action.HOLD, Action.REFRAME)  # before that, all of the body is on its way

        def told(say: Phrases) -> tuple[str, ...]:
            found: list[str | None] = []
            if across_m is not None:
                found.append(advice.sideways(across_m, facing, say))
            if cut := advice.cuts(seen.framing, self._wanted):
                parts = ", ".join(say.text(f"framing.{part}") for part in cut)
                found.append(say.text("framing.cut", parts=parts))
            if not facing:
                found.append(say.text("advice.turn_to_camera"))
            if still:
                found.append(advice.part_outside(body, self._zone, say))
            return tuple(text for text in found if text is not None)

        shown = told(self._phrases)
        return Advice(shown, told(self._phrases.aloud), across_m) if shown else NO_ADVICE

    def nothing_yet(self, now_s: float, silence: Silence = Silence.NOT_BEGUN) -> Moment:
        """The moment before the first picture, when that is long in coming; all is black."""
        black: ColourImage = np.zeros((360, 640, 3), np.uint8)
        return Moment(
            Frame(black, now_s, -1),
            None,
            None,
            self._judge.judge(None),
            withdrawn(self._phrases, silence),
            None,
        )

    def withdraw(self, last: Moment, now_s: float, silence: Silence = Silence.STOPPED) -> Moment:
        """The moment when nothing new has been seen for too long: nothing is claimed any more."""
        self._tracker.update(now_s, None)
        self._facing.update(now_s, None)
        # The person may have turned or sat down meanwhile, or be another.
        self._turning.update(now_s, None)
        self._posture.forget()
        assessment = self._judge.judge(None)
        return replace(
            last,
            pose=None,
            body=None,
            assessment=assessment,
            guidance=withdrawn(self._phrases, silence),
            framing=None,
            framed=False,
            still=self._stillness.update(now_s, None),
            posture=self._posture.now,
        )
