"""What to tell the person, as facts: one action, how far, and why. The narrator finds the words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from assist.distance import TrackedDistance
from assist.feed import Silence
from assist.guidance.advice import Advice, Sideways
from assist.guidance.verdict import NINETY_PERCENT, Assessment, Verdict
from assist.pose.person_state import PersonState
from assist.setup.body import Posture
from optics.focus_zone import FocusZone


class Action(Enum):
    """What to do. The value is its name on the second screen and in the styles of its page."""

    FORWARD = "forward"
    BACK = "back"
    HOLD = "hold"
    STOP = "stop"
    REFRAME = "reframe"
    AGAIN = "again"
    NOT_SURE = "not_sure"
    NO_ONE = "no_one"
    NO_FEED = "no_feed"


class Way(Enum):
    """Which way to go to the mark, as the person takes it."""

    FORWARD = "forward"
    BACK = "back"
    TOWARDS = "towards"
    """Towards the camera, for someone who has turned their back; so is the next."""
    AWAY = "away"
    ROUND = "round"
    """Round behind the mark and forward again, for someone who is never sent backwards."""


class Unmeasured(Enum):
    """Why the distance of somebody in view is not known."""

    MEASURING = "measuring"
    """It soon will be."""
    LITTLE_SEEN = "little seen"
    TOO_SMALL = "too small"
    """They are too far off."""
    LEARNING_MARK = "learning mark"
    """They stand on the mark, and are looked at to learn where it lies."""
    TEST_PICTURE = "test picture"
    """They stand where a test picture wants them, whatever is in focus there."""
    BARS = "bars"
    """The feed may have bars, which are looked for."""
    SIGNS = "signs"
    """The feed seems to have bars with signs or colours in them, which stay in doubt."""


class Caution(Enum):
    """What to warn of, whoever follows the guidance."""

    MOVING_BACK = "moving back"
    ON_THE_WAY = "on the way"


class Reason(Enum):
    """Why the guidance is as it is."""

    IN_FOCUS = "in focus"
    ARRIVED = "arrived"
    """A walking person is in the zone."""
    NEARLY_THERE = "nearly there"
    """A walking person comes to rest in the zone if they stop now."""
    TOO_NEAR = "too near"
    TOO_FAR = "too far"
    NOT_SURE = "not sure"
    UNMEASURED = "unmeasured"
    NO_ONE = "no one"
    NO_FEED = "no feed"
    WHO = "who"
    """It may be another person's distance."""
    MISSING = "missing"
    """Not all of several people are in view."""
    SMALL_BODY = "small body"
    """The head is too large for an adult's body, and the stature is not known."""
    MAYBE_SMALL = "maybe small"
    """No face has shown yet that the body is an adult's, and the stature is not known."""
    ZOOMED = "zoomed"
    """The feed's focal length is not the one that distances are measured by."""
    NETWORK = "network"
    """The pose network is none that distances were measured with."""
    SQUEEZED = "squeezed"
    """The picture seems to be squeezed: people look too slim or too wide."""
    STATURE = "stature"
    """The stated stature does not fit face and body."""
    STATURE_UNSEEN = "stature unseen"
    """An unusual stature is stated, and no face has confirmed it yet."""
    ON_ITS_SIDE = "on its side"
    """The picture seems to lie on its side."""


@dataclass(frozen=True, slots=True)
class Why:
    """A reason with its numbers, as far as it has such.

    eyes_m, limit_m: distance of the eyes, and of the zone's limit that they are beyond, both from
        the lens.   spread_m: half of the 90 % interval of the eyes' distance.
    rotate_deg: what the feed would have to be turned by.
    behind_s: how old the feed's pictures are when they come.
    """

    reason: Reason
    eyes_m: float | None = None
    limit_m: float | None = None
    spread_m: float | None = None
    rotate_deg: int | None = None
    behind_s: float | None = None


@dataclass(frozen=True, slots=True)
class Guidance:
    """What the person is to do, and why.

    to_mark_m: how far the eyes are behind the plane of sharpest focus; negative in front of it.
        None with no one in view, or too little of them to measure.
    way: which way to the mark, where they are sent there.
    on_feet: whether they are seen to stand, so that steps mean something to them.
    steps: the way in the person's own steps; 0 where that is no fit measure for it.
    advice: further advice, the most useful first; of `Action.REFRAME` the first is what to do.
    unmeasured: why their distance is not known, where they are in view without it.
    silence: why nothing is known, where the feed brings no news.
    least_m: in doubt, a shorter way to the mark is not worth telling.
    others: how many others are in view.
    """

    action: Action
    to_mark_m: float | None
    why: Why
    caution: Caution | None = None
    way: Way | None = None
    on_feet: bool = False
    steps: int = 0
    advice: tuple[Advice, ...] = ()
    unmeasured: Unmeasured | None = None
    silence: Silence | None = None
    least_m: float = 0.05
    others: int = 0

    @property
    def across_m(self) -> float | None:
        """How far to go sideways, where that comes before all else.

        Positive to the right of the unmirrored picture.
        """
        first = self.advice[0] if self.advice else None
        reframe = self.action is Action.REFRAME
        return first.across_m if reframe and isinstance(first, Sideways) else None

    @property
    def to_go_m(self) -> float | None:
        """How far to go to the mark, metres, behind it if positive; None where nothing is to go.

        That is at rest, and in doubt so near the mark that it would be told as 0.0.
        """
        if self.to_mark_m is None or self.action in (Action.HOLD, Action.STOP, Action.REFRAME):
            return None
        near = abs(self.to_mark_m) < self.least_m
        return None if near and self.action is Action.NOT_SURE else self.to_mark_m

    @property
    def lean(self) -> int:
        """Which way a sign points besides what it says of itself; 0 no way.

        A "not sure" inclines to too far (1) or too near (-1). To come into the frame, to the left
        (-1) or the right (1) as the person sees them who looks at the camera.
        """
        if self.action is Action.REFRAME and self.across_m is not None:
            return -1 if self.across_m > 0 else 1
        if self.action is not Action.NOT_SURE or self.to_go_m is None:
            return 0
        return 1 if self.to_go_m > 0 else -1


def withdrawn(silence: Silence = Silence.STOPPED, behind_s: float | None = None) -> Guidance:
    """What is told when the feed brings no news: an old verdict is never left standing."""
    return Guidance(Action.NO_FEED, None, Why(Reason.NO_FEED, behind_s=behind_s), silence=silence)


TOLD_INSTEAD = frozenset({Reason.SQUEEZED, Reason.STATURE})
"""Doubts about which the person can do something: that is told instead of a way to go."""
WALKING_M_S = 0.3
"""Speed of the eyes towards or away from the camera above which a person is on the move."""
USUAL_AGE_S = 0.1
"""How old a picture is when it has been judged, where nothing tells more: a camera on a cable and
the pose network. Feeds that were found good are 0.05 to 0.13 s late."""
LEAD_S = 0.6 + USUAL_AGE_S
"""From the light on the sensor to a walking person standing still: the picture's age, 0.2 s to
react to a word, the rest to end the step. Common practice, no source. What the picture is older
than usual comes on top."""
ENOUGH_TO_STOP = 0.75
"""Probability of coming to rest within the zone at which a walking person is told to stop."""
ON_THE_MARK_M = 0.05
"""Nobody in doubt is sent a shorter way, which is less than a foot's length is sure to; in a narrow
zone, than a quarter of its depth."""

_NOTHING_ODD = PersonState()


class Guide:
    """Makes guidance out of assessments.

    "Forward" is towards the camera and "back" away from it when the person faces the camera; to
    someone who has turned their back, it is "towards the camera" and "away from it".

    Whoever walks is guided by where they would come to rest, not by where they are: "stop" comes
    early enough. "Hold" is said only of where they are, and only to someone who stands.

    `forward_only` never sends anyone backwards: who is too near is asked to go round behind the
    mark and to come forward again. `step_m` is the person's step, None where it is not known; it
    is told only to someone who is seen to stand.
    """

    def __init__(
        self, zone: FocusZone, *, step_m: float | None = None, forward_only: bool = False
    ) -> None:
        self._zone = zone
        self._step_m = step_m
        self._forward_only = forward_only
        self._least_m = min(ON_THE_MARK_M, min(zone.in_front_m, zone.behind_m) / 2)
        self.picture_age_s = USUAL_AGE_S
        """How old the picture is that is judged; whoever knows sets it."""

    def action(self, assessment: Assessment, turning: bool = False) -> Action:
        """The one word that is right at this moment.

        turning: the person turns round; what then looks like walking is not believed.
        """
        distance = assessment.distance
        if distance is None:
            return Action.NO_ONE if assessment.verdict is Verdict.NO_ONE else Action.NOT_SURE
        if abs(distance.speed_m_s) > WALKING_M_S and not turning:
            return self._action_on_the_move(distance)
        verdict = assessment.verdict
        if verdict is Verdict.IN_FOCUS:
            return Action.HOLD
        if verdict is Verdict.TOO_FAR:
            return Action.FORWARD
        if verdict is Verdict.TOO_NEAR:
            return Action.AGAIN if self._forward_only else Action.BACK
        return Action.NOT_SURE

    def wrong_way(self, assessment: Assessment) -> frozenset[Action]:
        """The orders that would send somebody away from the mark, or off it."""
        distance = assessment.distance
        if distance is None:
            return frozenset()
        to_mark_m = self._zone.behind_best_m(distance.eyes_m)
        wrong = {Action.FORWARD} if to_mark_m < self._least_m else set()
        return frozenset(
            wrong | ({Action.BACK, Action.AGAIN} if to_mark_m > -self._least_m else set())
        )

    def _action_on_the_move(self, distance: TrackedDistance) -> Action:
        older_s = max(0.0, self.picture_age_s - USUAL_AGE_S)
        rest_m, rest_sd_m = distance.after(LEAD_S + older_s)
        before, within, behind = self._zone.probabilities(max(0.1, rest_m), rest_sd_m)
        if within >= ENOUGH_TO_STOP:
            return Action.STOP
        leaving = distance.speed_m_s > 0  # walking away from the camera
        if behind >= max(before, within):
            # Someone about to walk out of the zone is stopped; turning round comes after that.
            stop = leaving and distance.eyes_m < self._zone.far_m
            return Action.STOP if stop else Action.FORWARD
        if before >= within:
            if not leaving and distance.eyes_m > self._zone.near_m:
                return Action.STOP
            return Action.AGAIN if self._forward_only else Action.BACK
        return Action.NOT_SURE

    def guide(
        self,
        assessment: Assessment,
        person: PersonState = _NOTHING_ODD,
        action: Action | None = None,
        advice: tuple[Advice, ...] = (),
        why: Why | None = None,
    ) -> Guidance:
        """The guidance for this moment.

        action: the word to show, if not the right one now.   advice: what else would help.
        why: a reason that matters more than what was measured.
        """
        shown = self.action(assessment) if action is None else action
        distance = assessment.distance
        if distance is None and shown is Action.NOT_SURE:
            return self.unmeasured(why=why)
        if distance is None or shown in (Action.NO_ONE, Action.NO_FEED):
            return Guidance(Action.NO_ONE, None, why or Why(Reason.NO_ONE))
        why = why or self._why(shown, distance)
        if shown is Action.NOT_SURE and why.reason in TOLD_INSTEAD:
            return self.disbelieved(why)
        return self._measured(shown, distance, person, advice, why)

    def _measured(
        self,
        shown: Action,
        distance: TrackedDistance,
        person: PersonState,
        advice: tuple[Advice, ...],
        why: Why,
    ) -> Guidance:
        """For somebody whose distance is known."""
        to_mark_m = self._zone.behind_best_m(distance.eyes_m)
        if shown in (Action.AGAIN, Action.REFRAME):
            # They go sideways without looking, or back away from the camera to be seen whole.
            return Guidance(shown, to_mark_m, why, Caution.ON_THE_WAY, advice=advice)
        doubtful = shown is Action.NOT_SURE
        if shown in (Action.HOLD, Action.STOP) or (doubtful and abs(to_mark_m) < self._least_m):
            return Guidance(shown, to_mark_m, why, advice=advice, least_m=self._least_m)
        on_feet = person.posture is Posture.STANDING
        way = self._way(to_mark_m, person.faces_camera)
        caution = self._caution(to_mark_m, person.faces_camera)
        if doubtful and self._forward_only and to_mark_m < 0:
            way, caution = Way.ROUND, Caution.ON_THE_WAY
        steps = self._steps(to_mark_m) if on_feet and not doubtful else 0
        return Guidance(
            shown, to_mark_m, why, caution, way, on_feet, steps, advice, least_m=self._least_m
        )

    def unmeasured(
        self, state: Unmeasured = Unmeasured.LITTLE_SEEN, why: Why | None = None
    ) -> Guidance:
        """The guidance for somebody whose distance is not known."""
        # To be seen whole, people back away from the camera.
        caution = Caution.ON_THE_WAY if state is Unmeasured.LITTLE_SEEN else None
        why = why or Why(Reason.UNMEASURED)
        return Guidance(Action.NOT_SURE, None, why, caution, unmeasured=state)

    def disbelieved(self, why: Why) -> Guidance:
        """The guidance while the feed, or what is stated, is not to be believed."""
        return Guidance(Action.NOT_SURE, None, why)

    def _why(self, shown: Action, distance: TrackedDistance) -> Why:
        """The reason of the word that is shown, which may be older than the verdict of now."""
        eyes_m, zone = distance.eyes_m, self._zone
        if shown is Action.STOP:
            inside = zone.holds(eyes_m)
            return Why(Reason.ARRIVED if inside else Reason.NEARLY_THERE, eyes_m)
        if shown in (Action.HOLD, Action.REFRAME) and zone.holds(eyes_m):
            return Why(Reason.IN_FOCUS, eyes_m)
        if shown in (Action.BACK, Action.AGAIN) and eyes_m < zone.near_m:
            return Why(Reason.TOO_NEAR, eyes_m, zone.near_m)
        if shown is Action.FORWARD and eyes_m > zone.far_m:
            return Why(Reason.TOO_FAR, eyes_m, zone.far_m)
        return Why(Reason.NOT_SURE, eyes_m, spread_m=NINETY_PERCENT * distance.sd_m)

    def _steps(self, to_mark_m: float) -> int:
        """The correction in the person's own steps, where a step is a fit measure for it."""
        return 0 if self._step_m is None else round(abs(to_mark_m) / self._step_m)

    @staticmethod
    def _caution(to_mark_m: float, faces_camera: bool) -> Caution | None:
        """What to warn of on the way, which goes by how they face: backwards, nobody looks."""
        if (to_mark_m < 0) == faces_camera:
            return Caution.MOVING_BACK
        return None if faces_camera else Caution.ON_THE_WAY

    @staticmethod
    def _way(to_mark_m: float, faces_camera: bool) -> Way:
        if faces_camera:
            return Way.FORWARD if to_mark_m > 0 else Way.BACK
        return Way.TOWARDS if to_mark_m > 0 else Way.AWAY
