"""In focus or not: a probability, turned into a word that does not flicker."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from assist.distance import TrackedDistance
from assist.guidance.focus_plane import FocusPlane
from optics.focus_zone import FocusZone

NINETY_PERCENT = 1.645
"""Standard deviations on each side of the mean that hold nine in ten of a normal distribution."""


class Verdict(Enum):
    """What can be said about the eyes and the focus zone."""

    TOO_NEAR = "too near"
    IN_FOCUS = "in focus"
    TOO_FAR = "too far"
    NOT_SURE = "not sure"
    NO_ONE = "no one in view"


@dataclass(frozen=True, slots=True)
class Assessment:
    """The verdict at one moment and what it rests on.

    p_in_focus, p_too_near, p_too_far: probabilities that the eyes lie within, before and behind the
    zone; they add up to 1, or are all 0 with no one in view or measured.
    """

    verdict: Verdict
    p_in_focus: float = 0.0
    p_too_near: float = 0.0
    p_too_far: float = 0.0
    distance: TrackedDistance | None = None

    @property
    def doubted(self) -> Assessment:
        """The same where it may be another person's or another body's distance: "not sure".

        What it rests on is then as likely wrong as right; wrong, it says nothing.
        """
        if self.distance is None:
            return replace(self, verdict=Verdict.NOT_SURE)
        within, before, behind = (
            p / 2 + 1 / 6 for p in (self.p_in_focus, self.p_too_near, self.p_too_far)
        )
        return Assessment(Verdict.NOT_SURE, within, before, behind, self.distance)


class Judge:
    """Turns tracked distances into verdicts, with hysteresis.

    A verdict is entered at a high probability and left at a lower one. "In focus" is the costly
    word to get wrong, so it is entered at 0.90 and left below 0.80; the other two, entered at 0.75
    and left below 0.60, only make the person move. In between it says "not sure".

    plane: what is learned of where the zone really lies; it lies where it is stated if None.
    """

    ENTER_IN_FOCUS = 0.90
    LEAVE_IN_FOCUS = 0.80
    ENTER_OUTSIDE = 0.75
    LEAVE_OUTSIDE = 0.60

    def __init__(self, zone: FocusZone, plane: FocusPlane | None = None) -> None:
        self._zone = zone
        self._plane = plane
        self._verdict = Verdict.NO_ONE

    def judge(self, distance: TrackedDistance | None) -> Assessment:
        """The verdict for the distance now, None meaning that no one is in view."""
        if distance is None:
            self._verdict = Verdict.NO_ONE
            return Assessment(Verdict.NO_ONE)
        if self._plane is None:
            before, within, behind = self._zone.probabilities(distance.eyes_m, distance.sd_m)
        else:
            before, within, behind = self._plane.probabilities(distance)
            distance = self._plane.told(distance)
        self._verdict = self._next(before, within, behind)
        return Assessment(self._verdict, within, before, behind, distance)

    def _next(self, before: float, within: float, behind: float) -> Verdict:
        choices = (
            (Verdict.IN_FOCUS, within, self.ENTER_IN_FOCUS, self.LEAVE_IN_FOCUS),
            (Verdict.TOO_NEAR, before, self.ENTER_OUTSIDE, self.LEAVE_OUTSIDE),
            (Verdict.TOO_FAR, behind, self.ENTER_OUTSIDE, self.LEAVE_OUTSIDE),
        )
        for verdict, probability, enter, leave in choices:
            if probability >= (leave if verdict is self._verdict else enter):
                return verdict
        return Verdict.NOT_SURE
