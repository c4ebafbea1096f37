"""Where the plane of focus is found to lie, on the scale of the distances that are measured.

Until something was learned, the zone is where the set-up says, as sure as body, lens and focus are
known. A mark that somebody stood on, or a picture whose blur is known, tells where sharp is in the
measured distances themselves (`optics.plane_of_focus`); from then on every distance is told on
that scale, on which the plane of focus lies at the stated focus distance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from assist.distance import BodyDistance, TrackedDistance
from assist.distance.reference import ReferenceView
from assist.setup.set_up import FocusedBy
from optics.focus_zone import FocusZone, ZoneProbabilities
from optics.plane_of_focus import PlaneOfFocus

FOCUS_SD: dict[FocusedBy, float] = {"scale": 0.04, "stand-in": 0.01, "eyes": 0.005}
"""How far a lens is focused from where it is said to be, relative, by how that was set. Common
practice, no source."""
MARK_SD: dict[FocusedBy, float] = {"scale": 0.04, "stand-in": 0.005, "eyes": 0.002}
"""The same from where somebody stands who stands on the mark: the tape is out of it."""
VISIT_SD = 0.003
"""What is lost of all that was learned from one visit to the next, relative: the same person stands
and dresses a little otherwise."""
_ANOTHER_DAY = 0.005
"""The same from one session to the next, a camera put back on its marks and a focus set again
included."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """One thing that taught where the plane of focus lies.

    ratio: the eyes' measured distance over the stated focus distance.   own_sd: its relative
    standard deviation as far as it differs from one visit to the next.
    blur, blur_sd: of a picture, in circles of confusion; None of a mark.
    plane_behind: probability that the plane lies behind the eyes, where the picture shows it.
    attempt: the picture's number in the record.
    """

    ratio: float
    own_sd: float
    blur: float | None = None
    blur_sd: float | None = None
    plane_behind: float | None = None
    attempt: int | None = None


class FocusPlane:
    """What a run has learned of one zone; nothing, to begin with.

    Marks and pictures count only against a reference view of the person, which the first of them
    brings: before, the measured scale may still move while body and face are compared.
    """

    def __init__(self, zone: FocusZone, focused_by: FocusedBy = "stand-in") -> None:
        self._zone = zone
        self._focused_by = focused_by
        self.forget()

    def forget(self) -> None:
        """Camera, zoom, aperture or focus have changed, or it is somebody else: begin anew."""
        self.reference: ReferenceView | None = None
        self.lessons: tuple[Lesson, ...] = ()
        self._belief: PlaneOfFocus | None = None

    @property
    def learned(self) -> bool:
        """Whether anything taught it yet."""
        return self._belief is not None

    @property
    def belief(self) -> PlaneOfFocus | None:
        """What is known of it; None before anything taught it."""
        return self._belief

    @property
    def marks_teach(self) -> bool:
        """Whether standing on the mark tells anything: not where the lens's scale was trusted."""
        return self._focused_by != "scale"

    # -- learning -----------------------------------------------------------------------------

    def learn_mark(self, view: ReferenceView) -> None:
        """Somebody stands where the focus was set; `view` is measured on the scale of now."""
        sd = math.hypot(view.own_sd, MARK_SD[self._focused_by])
        self._learn(view, Lesson(view.eyes_m / self._zone.best_m, sd))

    def learn_picture(
        self,
        view: ReferenceView,
        blur: float,
        blur_sd: float,
        *,
        plane_behind: float | None = None,
        attempt: int | None = None,
    ) -> None:
        """A picture was taken of somebody seen as in `view`; blurs in circles of confusion."""
        ratio = view.eyes_m / self._zone.best_m
        self._learn(view, Lesson(ratio, view.own_sd, blur, blur_sd, plane_behind, attempt))

    def learned_before(self, reference: ReferenceView, lessons: Iterable[Lesson]) -> None:
        """Take up what an earlier run learned of the same camera, set-up and person."""
        self.forget()
        for lesson in lessons:
            self._learn(reference, lesson)
        if self._belief is not None:
            self._belief = self._belief.drifted(_ANOTHER_DAY)

    def _learn(self, view: ReferenceView, lesson: Lesson) -> None:
        if self.reference is None:
            self.reference = view
        belief = self._belief
        if belief is None:
            # What the reference view is off by belongs to the scale, as the body's size does.
            belief = PlaneOfFocus.stated(
                math.hypot(self.reference.common_sd, FOCUS_SD[self._focused_by])
            )
        else:
            belief = belief.drifted(VISIT_SD)
        if lesson.blur is None or lesson.blur_sd is None:
            belief = belief.marked(lesson.ratio, lesson.own_sd)
        else:
            belief = belief.pictured(
                lesson.ratio,
                lesson.own_sd,
                lesson.blur,
                lesson.blur_sd,
                self._zone,
                lesson.plane_behind,
            )
        self._belief = belief
        self.lessons = (*self.lessons, lesson)

    # -- telling ------------------------------------------------------------------------------

    def told(self, measured: TrackedDistance) -> TrackedDistance:
        """The distance on the scale that the zone stands on, and as sure as the zone is known."""
        if self._belief is None:
            stated = math.hypot(measured.common_sd_m / measured.eyes_m, FOCUS_SD[self._focused_by])
            return measured.times(1.0, stated)
        return measured.times(1 / self._belief.ratio, self._belief.sd)

    def told_body(self, measured: BodyDistance) -> BodyDistance:
        """The same for all of the body."""
        if self._belief is None:
            return measured
        return measured.times(1 / self._belief.ratio, self._belief.sd)

    def probabilities(self, measured: TrackedDistance) -> ZoneProbabilities:
        """Of standing before, within and behind the zone; `measured` as it was, not as `told`."""
        if self._belief is None:
            told = self.told(measured)
            return self._zone.probabilities(told.eyes_m, told.sd_m)
        own_sd = math.hypot(measured.own_sd_m / measured.eyes_m, VISIT_SD)
        return self._belief.probabilities(self._zone, measured.eyes_m, own_sd)
