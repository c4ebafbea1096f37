"""Pictures checked while the run goes on: what they show teaches where the plane of focus lies."""

from __future__ import annotations

import math

from assist.base.closing import Closing
from assist.distance.reference import ReferenceView
from assist.guidance.assistant import Assistant
from assist.guidance.focus_plane import FocusPlane
from assist.guidance.picture_news import PictureNews, Shown
from assist.review.beside import CheckBeside, CheckedBeside, Order
from assist.review.blur.edge_models import BOX_LENGTHS, DISC_DIAMETERS
from assist.review.checked import MOVEMENT, Cause, CheckedPicture, Sharpness
from assist.session.folder import Attempt, Session
from assist.setup.set_up import SetUp
from optics.focus_zone import FocusZone

TOLD_S = 8.0
"""How long the news of a picture is told: time to read it from afar."""
_SIDE = 0.85
"""How often the review is right about the side on which the focus lies, where it names one
(`tests.benchmarks.review_labels`)."""
_SHOWN: dict[str, Shown] = {
    Sharpness.SHARP.value: "sharp",
    Sharpness.ACCEPTABLE.value: "acceptable",
    Sharpness.SOFT.value: "soft",
    Sharpness.NOT_SURE.value: "unclear",
}
_MOVED = {cause.value for cause in MOVEMENT}


class PictureChecks(Closing):
    """Has every picture of a run checked, and lets it teach the assistant.

    A picture teaches only if the person was seen standing still when it was ordered: their place is
    otherwise not known to the centimetre. With several people together, whose assistant is None,
    none teaches.
    """

    def __init__(self, set_up: SetUp, session: Session, assistant: Assistant | None) -> None:
        self._zone = set_up.focus_zone
        self._assistant = assistant
        self._checks = CheckBeside(set_up, session.folder)
        self._session = session
        self._views: dict[int, ReferenceView] = {}
        self._news: tuple[float, PictureNews] | None = None
        self.answered = 0
        """How many pictures have been looked at, or are known not to be there."""

    def fired(self, attempt: int, time_s: float) -> None:
        """A picture has just been ordered: remember how the person is seen."""
        self._checks.get_ready()
        view = None if self._assistant is None else self._assistant.view_now(time_s)
        if view is not None:
            self._views[attempt] = view

    def taken(self, attempt: Attempt) -> None:
        """A picture is there, or is known not to be."""
        if attempt.picture is not None:
            self._checks.check(Order(self._session.folder / attempt.picture, attempt))
        else:
            self.answered += 1

    def update(self, time_s: float) -> PictureNews | None:
        """Take in what has been found, and the news to tell now."""
        for found in self._checks.poll():
            self._news = time_s, self._learned(found)
            self.answered += 1
        if self._news is None or time_s - self._news[0] > TOLD_S:
            return None
        return self._news[1]

    def finish(self) -> None:
        """Take in what is still being looked at."""
        for found in self._checks.finish():
            self._learned(found)

    def close(self) -> None:
        """End the checking; safe to call twice."""
        self._checks.close()

    def _learned(self, found: CheckedBeside) -> PictureNews:
        checked = found.checked
        if checked is None:
            return PictureNews(found.attempt, "unclear")
        view = self._views.get(found.attempt)
        one = self._assistant
        if one is not None and view is not None and teaches(checked):
            learn(one.plane, view, checked, found.attempt)
            one.refer()
        if checked.cause in _MOVED:
            return PictureNews(found.attempt, "moved")
        shown = _SHOWN[checked.verdict]
        off_m = None
        if one is not None and view is not None and shown in ("acceptable", "soft"):
            off_m = off_now_m(one.plane, self._zone, view)
        return PictureNews(found.attempt, shown, off_m)


def teaches(checked: CheckedPicture) -> bool:
    """Whether a picture's blur is known."""
    return checked.blur_px is not None and bool(checked.blur_sd_px) and bool(checked.limit_px)


def learn(plane: FocusPlane, view: ReferenceView, checked: CheckedPicture, attempt: int) -> None:
    """Let a picture of somebody who was seen as in `view` teach where the plane of focus lies."""
    assert checked.limit_px is not None
    blur_px, sd_px = out_of_focus_px(checked)
    behind = {Cause.FRONT_FOCUS.value: 1 - _SIDE, Cause.BACK_FOCUS.value: _SIDE}
    plane.learn_picture(
        view,
        blur_px / checked.limit_px,
        sd_px / checked.limit_px,
        plane_behind=behind.get(checked.cause),
        attempt=attempt,
    )


def out_of_focus_px(checked: CheckedPicture) -> tuple[float, float]:
    """What of a picture's blur is that of its focus, and its standard deviation.

    Along a smear there is movement besides, so the blur across it would be that of the focus; but
    eyes out of focus are taken for smeared, too. So it is anything between the two.
    """
    assert checked.blur_px is not None and checked.blur_sd_px is not None
    if not checked.smear_px:
        return checked.blur_px, checked.blur_sd_px
    smear_px = checked.smear_px * DISC_DIAMETERS / BOX_LENGTHS
    across_px = math.sqrt(max(checked.blur_px**2 - smear_px**2, 0.0))
    half = (checked.blur_px - across_px) / 2
    return across_px + half, math.hypot(checked.blur_sd_px, half)


def off_now_m(plane: FocusPlane, zone: FocusZone, view: ReferenceView) -> float | None:
    """How far behind the plane of focus somebody seen so stands; None while the side is open."""
    belief = plane.belief
    if belief is None or not belief.one_sided:
        return None
    return zone.behind_best_m(view.eyes_m / belief.ratio)
