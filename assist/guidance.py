"""What to tell the person: one action, how far, and why."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from assist.phrases import Phrases
from assist.verdict import Assessment, Verdict
from optics.lens import DepthOfField


class Action(Enum):
    """What to do. The value is its key among the phrases: "action." and it is the one big word."""

    FORWARD = "forward"
    BACK = "back"
    HOLD = "hold"
    STOP = "stop"
    NOT_SURE = "not_sure"
    NO_ONE = "no_one"
    NO_FEED = "no_feed"


@dataclass(frozen=True, slots=True)
class Guidance:
    """What the screen, the sound and the record say.

    to_mark_m: how far the eyes are behind the plane of sharpest focus; negative in front of it.
        None with no one in view.
    sentence: what to do, in words.   why: the reason.   caution: a warning to show, or nothing.
    spoken: the same for the ear, warning included, short and without reasons.
    """

    action: Action
    to_mark_m: float | None
    sentence: str
    why: str
    caution: str = ""
    spoken: str = ""


def withdrawn(say: Phrases) -> Guidance:
    """What is said when the feed has stopped: an old verdict is never left standing."""
    return Guidance(
        Action.NO_FEED,
        None,
        say.text("do.no_feed"),
        say.text("why.no_feed"),
        spoken=say.text("spoken.no_feed"),
    )


class Guide:
    """Makes guidance out of assessments.

    "Forward" is towards the camera and "back" away from it when the person faces the camera; to
    someone who has turned their back, the sentence says "towards the camera" and "away from it".
    """

    def __init__(
        self,
        zone: DepthOfField,
        focus_m: float,
        sensor_offset_m: float,
        phrases: Phrases | None = None,
    ) -> None:
        self._zone = zone
        self._focus_m = focus_m
        self._offset_m = sensor_offset_m
        self._phrases = phrases or Phrases.load()

    def guide(self, assessment: Assessment, faces_camera: bool = True) -> Guidance:
        """The guidance for this moment."""
        say = self._phrases
        distance = assessment.distance
        if distance is None:
            return Guidance(
                Action.NO_ONE,
                None,
                say.text("do.no_one"),
                say.text("why.no_one"),
                spoken=say.text("spoken.no_one"),
            )
        to_mark_m = distance.eyes_m - self._focus_m
        at = say.length(distance.eyes_m + self._offset_m, 2)
        way = self._way(to_mark_m, faces_camera)
        move = say.text(f"do.{way}", length=say.length(abs(to_mark_m)))
        aloud = say.spoken_length(to_mark_m)
        caution = say.text("caution.stepping_back") if to_mark_m < 0 else ""
        if assessment.verdict is Verdict.IN_FOCUS:
            why = say.text("why.in_focus", distance=at)
            hold = say.text("spoken.hold")
            return Guidance(Action.HOLD, to_mark_m, say.text("do.hold"), why, spoken=hold)
        if assessment.verdict in (Verdict.TOO_NEAR, Verdict.TOO_FAR):
            near = assessment.verdict is Verdict.TOO_NEAR
            limit_m = float(self._zone.near_m if near else self._zone.far_m) + self._offset_m
            why = say.text(
                "why.too_near" if near else "why.too_far", distance=at, limit=say.length(limit_m, 2)
            )
            spoken = say.text(f"spoken.{way}", length=aloud)
            action = Action.BACK if near else Action.FORWARD
            return Guidance(action, to_mark_m, move, why, caution, spoken)
        why = say.text("why.not_sure", distance=at, spread=say.length(1.645 * distance.sd_m, 2))
        sentence = say.text("do.not_sure", move=move)
        spoken = say.text(f"spoken.not_sure_{way}", length=aloud)
        return Guidance(Action.NOT_SURE, to_mark_m, sentence, why, caution, spoken)

    @staticmethod
    def _way(to_mark_m: float, faces_camera: bool) -> str:
        """Which way to the mark, as the last part of a phrase's key."""
        if faces_camera:
            return "forward" if to_mark_m > 0 else "back"
        return "towards" if to_mark_m > 0 else "away"
