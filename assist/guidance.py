"""What to tell the person: one action, how far, and why."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from assist.verdict import Assessment, Verdict
from optics.lens import DepthOfField

CAUTION_STEPPING_BACK = "look behind you before you step back"


class Action(Enum):
    """What to do, as one big word."""

    FORWARD = "FORWARD"
    BACK = "BACK"
    HOLD = "HOLD"
    NOT_SURE = "NOT SURE"
    NO_ONE = "NO ONE"


@dataclass(frozen=True, slots=True)
class Guidance:
    """What the screen, the sound and the record say.

    to_mark_m: how far the eyes are behind the plane of sharpest focus; negative in front of it.
        None with no one in view.
    sentence: what to do, in words.   why: the reason.   caution: a warning to show, or nothing.
    """

    action: Action
    to_mark_m: float | None
    sentence: str
    why: str
    caution: str = ""


NO_PICTURE = Guidance(Action.NO_ONE, None, "wait", "no picture comes from the feed")
"""What is said when the feed has stopped: an old verdict is never left standing."""


class Guide:
    """Makes guidance out of assessments.

    "Forward" is towards the camera and "back" away from it when the person faces the camera; to
    someone who has turned their back, the sentence says "towards the camera" and "away from it".
    """

    def __init__(self, zone: DepthOfField, focus_m: float, sensor_offset_m: float) -> None:
        self._zone = zone
        self._focus_m = focus_m
        self._offset_m = sensor_offset_m

    def guide(self, assessment: Assessment, faces_camera: bool = True) -> Guidance:
        """The guidance for this moment."""
        distance = assessment.distance
        if distance is None:
            return Guidance(Action.NO_ONE, None, "walk into the picture", "no one in view")
        to_mark_m = distance.eyes_m - self._focus_m
        at = f"eyes at {distance.eyes_m + self._offset_m:.2f} m"
        move = self._move(to_mark_m, faces_camera)
        back = to_mark_m < 0
        caution = CAUTION_STEPPING_BACK if back else ""
        near_m = float(self._zone.near_m) + self._offset_m
        far_m = float(self._zone.far_m) + self._offset_m
        if assessment.verdict is Verdict.IN_FOCUS:
            return Guidance(Action.HOLD, to_mark_m, "hold still", f"{at}, in focus")
        if assessment.verdict is Verdict.TOO_NEAR:
            why = f"{at}, sharp from {near_m:.2f} m on"
            return Guidance(Action.BACK, to_mark_m, move, why, caution)
        if assessment.verdict is Verdict.TOO_FAR:
            return Guidance(Action.FORWARD, to_mark_m, move, f"{at}, sharp to {far_m:.2f} m")
        why = f"{at}, give or take {1.645 * distance.sd_m:.2f} m"
        return Guidance(Action.NOT_SURE, to_mark_m, f"not sure: {move} to be safe", why, caution)

    @staticmethod
    def _move(to_mark_m: float, faces_camera: bool) -> str:
        length = f"{abs(to_mark_m):.1f} m"
        if faces_camera:
            return f"step {'forward' if to_mark_m > 0 else 'back'} {length}"
        return f"{length} {'towards the camera' if to_mark_m > 0 else 'further from the camera'}"
