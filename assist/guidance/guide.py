"""What to tell the person: one action, how far, and why."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from typing import Literal

from assist.base.phrases import Phrases
from assist.distance import TrackedDistance
from assist.feed import Silence
from assist.guidance.verdict import NINETY_PERCENT, Assessment, Verdict
from assist.setup.body import Posture
from optics.focus_zone import FocusZone

Unmeasured = Literal["measuring", "unmeasured", "too_small", "bars"]
"""Why a distance is not known: it soon will be; too little is seen; they are too far off; the feed
may have black bars."""


class Action(Enum):
    """What to do. The value is its key among the phrases: "action." and it is the one big word."""

    FORWARD = "forward"
    BACK = "back"
    HOLD = "hold"
    STOP = "stop"
    REFRAME = "reframe"
    AGAIN = "again"
    NOT_SURE = "not_sure"
    NO_ONE = "no_one"
    NO_FEED = "no_feed"


@dataclass(frozen=True, slots=True)
class Guidance:
    """What the screen, the sound and the record say.

    to_mark_m: how far the eyes are behind the plane of sharpest focus; negative in front of it.
        None with no one in view, or too little of them to measure.
    sentence: what to do, in words.   why: the reason.   caution: a warning to show, or nothing.
    spoken: the same for the ear, warning included, short and without reasons.
    also: further advice, the most useful first.   also_spoken: the first of it for the ear.
    across_m: how far to go sideways, positive to the right of the unmirrored picture, where that
        comes before all else.
    trouble, trouble_spoken: what has just failed, while the run goes on, each on its own line;
        nothing most of the time.
    """

    action: Action
    to_mark_m: float | None
    sentence: str
    why: str
    caution: str = ""
    spoken: str = ""
    also: tuple[str, ...] = ()
    also_spoken: str = ""
    across_m: float | None = None
    trouble: str = ""
    trouble_spoken: str = ""

    @property
    def to_go_m(self) -> float | None:
        """How far to go to the mark, metres, behind it if positive; None where nothing is to go.

        That is at rest, and in doubt so near the mark that it would be told as 0.0.
        """
        if self.to_mark_m is None or self.action in (Action.HOLD, Action.STOP, Action.REFRAME):
            return None
        near = abs(self.to_mark_m) < ON_THE_MARK_M
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

    def length_shown(self, distance: TrackedDistance | None, zone: FocusZone, say: Phrases) -> str:
        """The one length to show: how far to go, else how far away the eyes are; "" for neither."""
        if self.to_go_m is not None:
            return say.length_to_go(self.to_go_m)
        if self.across_m is not None:
            return say.length_to_go(self.across_m)
        if distance is None:
            return ""
        eyes = say.length(told_m(zone.from_sensor_m(distance.eyes_m)), 2)
        return say.text("screen.at", distance=eyes)


@dataclass(frozen=True, slots=True)
class Advice:
    """Further advice, the most useful first, for the eye and for the ear.

    across_m: as in `Guidance`, where the first of it is to go sideways.
    """

    shown: tuple[str, ...] = ()
    spoken: tuple[str, ...] = ()
    across_m: float | None = None


NO_ADVICE = Advice()


def withdrawn(say: Phrases, silence: Silence = Silence.STOPPED) -> Guidance:
    """What is said when the feed brings no news: an old verdict is never left standing."""
    key = "no_feed" if silence is Silence.STOPPED else f"no_feed_{silence.value}"
    return Guidance(
        Action.NO_FEED,
        None,
        say.text("do.no_feed"),
        say.text(f"why.{key}"),
        spoken=say.text(f"spoken.{key}"),
    )


WALKING_M_S = 0.3
"""Speed of the eyes towards or away from the camera above which a person is on the move."""
LEAD_S = 0.7
"""From the light on the sensor to a walking person standing still: about 0.1 s for the feed and the
pose network, 0.2 s to react to a word, the rest to end the step. Common practice, no source."""
ENOUGH_TO_STOP = 0.75
"""Probability of coming to rest within the zone at which a walking person is told to stop."""
TOLD_TO_M = 0.05
"""Distances are shown to this: finer figures would only flicker within what is not known."""
ON_THE_MARK_M = 0.05
"""Nobody in doubt is sent a shorter way: it would be told as 0.0."""


def told_m(distance_m: float) -> float:
    """A distance as it is shown, metres."""
    return round(distance_m / TOLD_TO_M) * TOLD_TO_M


class Guide:
    """Makes guidance out of assessments.

    "Forward" is towards the camera and "back" away from it when the person faces the camera; to
    someone who has turned their back, the sentence says "towards the camera" and "away from it".

    Whoever walks is guided by where they would come to rest, not by where they are: "stop" comes
    early enough. "Hold" is said only of where they are, and only to someone who stands.

    `forward_only` never sends anyone backwards: who is too near is asked to go round behind the
    mark and to come forward again. `step_m` is the person's step, None where it is not known; it
    is told only to someone who is seen to stand.
    """

    def __init__(
        self,
        zone: FocusZone,
        phrases: Phrases | None = None,
        *,
        step_m: float | None = None,
        forward_only: bool = False,
    ) -> None:
        self._zone = zone
        self._phrases = phrases or Phrases.load()
        self._step_m = step_m
        self._forward_only = forward_only

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

    def _action_on_the_move(self, distance: TrackedDistance) -> Action:
        rest_m, rest_sd_m = distance.after(LEAD_S)
        before, within, behind = self._zone.probabilities(max(0.1, rest_m), rest_sd_m)
        if within >= ENOUGH_TO_STOP:
            return Action.STOP
        leaving = distance.speed_m_s > 0  # walking away from the camera
        if behind >= max(before, within):
            # Someone about to walk out of the zone is stopped; turning round comes after that.
            return Action.STOP if leaving and distance.eyes_m < self._zone.far_m else Action.FORWARD
        if before >= within:
            if not leaving and distance.eyes_m > self._zone.near_m:
                return Action.STOP
            return Action.AGAIN if self._forward_only else Action.BACK
        return Action.NOT_SURE

    def guide(
        self,
        assessment: Assessment,
        faces_camera: bool = True,
        action: Action | None = None,
        also: Advice = NO_ADVICE,
        posture: Posture = Posture.NOT_SURE,
    ) -> Guidance:
        """The guidance for this moment; `action` is the word to show, if not the right one now."""
        shown = self.action(assessment) if action is None else action
        if shown is Action.REFRAME and assessment.distance is not None:
            return self._reframe(assessment.verdict, assessment.distance, also)
        told = self._first(assessment, faces_camera, shown, posture)
        if not also.shown or told.to_mark_m is None:
            return told
        return replace(told, also=also.shown, also_spoken=also.spoken[0])

    def _reframe(self, verdict: Verdict, distance: TrackedDistance, also: Advice) -> Guidance:
        """For someone at the right distance whom the picture does not show as it should."""
        say = self._phrases
        to_mark_m = self._zone.behind_best_m(distance.eyes_m)
        why = self._why(Action.REFRAME, verdict, distance)
        # They go sideways without looking, or back away from the camera to be seen whole.
        caution = say.text("caution.on_the_way")
        if not also.shown:
            sentence = say.text("do.reframe")
            spoken = say.text("spoken.reframe")
            return Guidance(Action.REFRAME, to_mark_m, sentence, why, caution, spoken)
        return Guidance(
            Action.REFRAME,
            to_mark_m,
            also.shown[0],
            why,
            caution,
            say.text("spoken.in_focus_but", advice=also.spoken[0]),
            also.shown[1:],
            also.spoken[1] if len(also.spoken) > 1 else "",
            also.across_m,
        )

    def _first(
        self,
        assessment: Assessment,
        faces_camera: bool,
        shown: Action,
        posture: Posture,
    ) -> Guidance:
        """What matters most, without further advice."""
        say = self._phrases
        distance = assessment.distance
        if distance is None and shown is Action.NOT_SURE:
            return self.unmeasured()
        if distance is None or shown in (Action.NO_ONE, Action.NO_FEED):
            return Guidance(
                Action.NO_ONE,
                None,
                say.text("do.no_one"),
                say.text("why.no_one"),
                spoken=say.text("spoken.no_one"),
            )
        to_mark_m = self._zone.behind_best_m(distance.eyes_m)
        why = self._why(shown, assessment.verdict, distance)
        if shown in (Action.HOLD, Action.STOP, Action.AGAIN):
            return Guidance(
                shown,
                to_mark_m,
                say.text(f"do.{shown.value}"),
                why,
                say.text("caution.on_the_way") if shown is Action.AGAIN else "",
                say.text(f"spoken.{shown.value}"),
            )
        if shown is Action.NOT_SURE and abs(to_mark_m) < ON_THE_MARK_M:
            sentence, spoken = say.text("do.not_sure_here"), say.text("spoken.not_sure_here")
            return Guidance(shown, to_mark_m, sentence, why, spoken=spoken)
        way = self._way(to_mark_m, faces_camera)
        aloud = say.spoken_length(to_mark_m)
        caution = say.text("caution.moving_back") if to_mark_m < 0 else ""
        on_feet = posture is Posture.STANDING
        how = f"step_{way}" if on_feet and faces_camera else way
        move = say.text(f"do.{how}", length=say.length_to_go(to_mark_m))
        if shown is Action.NOT_SURE:
            if self._forward_only and to_mark_m < 0:
                move, caution, way = say.text("do.again"), say.text("caution.on_the_way"), "again"
            sentence = say.text("do.not_sure", move=move)
            spoken = say.text(f"spoken.not_sure_{way}", length=aloud)
            return Guidance(shown, to_mark_m, sentence, why, caution, spoken)
        steps = self._steps(to_mark_m) if on_feet else ""
        return Guidance(
            shown,
            to_mark_m,
            f"{move}, {steps}" if steps else move,
            why,
            caution,
            say.text(f"spoken.{way}", length=aloud),
        )

    def unmeasured(self, state: Unmeasured = "unmeasured") -> Guidance:
        """The guidance for somebody whose distance is not known."""
        say = self._phrases
        return Guidance(
            Action.NOT_SURE,
            None,
            say.text(f"do.{state}"),
            say.text(f"why.{state}"),
            # To be seen whole, people back away from the camera.
            say.text("caution.on_the_way") if state == "unmeasured" else "",
            say.text(f"spoken.{state}"),
        )

    def _why(self, shown: Action, verdict: Verdict, distance: TrackedDistance) -> str:
        say = self._phrases
        at = say.length(told_m(self._zone.from_sensor_m(distance.eyes_m)), 2)
        if shown is Action.STOP:
            return say.text("why.stop", distance=at)
        if verdict is Verdict.IN_FOCUS:
            return say.text("why.in_focus", distance=at)
        if verdict in (Verdict.TOO_NEAR, Verdict.TOO_FAR):
            near = verdict is Verdict.TOO_NEAR
            limit_m = self._zone.near_from_sensor_m if near else self._zone.far_from_sensor_m
            key = "why.too_near" if near else "why.too_far"
            return say.text(key, distance=at, limit=say.length(limit_m, 2))
        spread_m = max(TOLD_TO_M, told_m(NINETY_PERCENT * distance.sd_m))
        return say.text("why.not_sure", distance=at, spread=say.length(spread_m, 2))

    def _steps(self, to_mark_m: float) -> str:
        """The correction in the person's own steps, where a step is a fit measure for it."""
        if self._step_m is None:
            return ""
        count = round(abs(to_mark_m) / self._step_m)
        if count == 0:
            return ""
        return self._phrases.text("steps.one" if count == 1 else "steps.many", n=count)

    @staticmethod
    def _way(to_mark_m: float, faces_camera: bool) -> str:
        """Which way to the mark, as the last part of a phrase's key."""
        if faces_camera:
            return "forward" if to_mark_m > 0 else "back"
        return "towards" if to_mark_m > 0 else "away"
