"""Where somebody is when the picture is taken, which is later than the one they were seen in."""

from __future__ import annotations

from dataclasses import replace

from assist.guidance.assistant import Moment
from assist.guidance.verdict import Assessment, Judge, Verdict
from optics.focus_zone import FocusZone

_LEAST_S = 0.02
_LONGEST_S = 1.0
"""Nobody can be said to have kept their pace for longer."""


def at_zero(moment: Moment, zone: FocusZone, taken_s: float) -> Moment:
    """The moment with its distance as it is when the picture is taken, by the feed's clock.

    They are taken to walk on as they walked; whoever stands still stays where they are.
    """
    elapsed_s = min(taken_s - moment.frame.time_s, _LONGEST_S)
    distance = moment.assessment.distance
    if distance is None or elapsed_s < _LEAST_S:
        return moment
    eyes_m, sd_m = distance.after(elapsed_s)
    eyes_m = max(eyes_m, 0.01)
    there = replace(distance, time_s=distance.time_s + elapsed_s, eyes_m=eyes_m, sd_m=sd_m)
    assessment = replace(moment.assessment, distance=there)
    if assessment.verdict is not Verdict.NOT_SURE:  # a doubt has reasons that stay
        assessment = _judged(assessment, zone)
    return replace(moment, assessment=assessment)


def _judged(assessment: Assessment, zone: FocusZone) -> Assessment:
    """The verdict that holds there: the one given as long as it would have been kept."""
    anew = Judge(zone).judge(assessment.distance)
    kept = {
        Verdict.IN_FOCUS: anew.p_in_focus >= Judge.LEAVE_IN_FOCUS,
        Verdict.TOO_NEAR: anew.p_too_near >= Judge.LEAVE_OUTSIDE,
        Verdict.TOO_FAR: anew.p_too_far >= Judge.LEAVE_OUTSIDE,
    }
    return replace(anew, verdict=assessment.verdict) if kept[assessment.verdict] else anew
