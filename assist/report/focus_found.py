"""Where a session found the plane of focus, and what told it, in words."""

from __future__ import annotations

from pathlib import Path

from assist.base.words import _, current
from assist.guidance.verdict import NINETY_PERCENT
from assist.session import focus_learned
from assist.session.focus_learned import KeptLesson
from optics.focus_zone import FocusZone


def facts(folder: Path, zone: FocusZone) -> list[tuple[str, str]]:
    """Names and values; none where the session has learned nothing. UserError if damaged."""
    found = focus_learned.load(folder)
    if found is None:
        return []
    say = current()
    place = _(
        "{distance} as your distance was measured, known to {spread}",
        distance=say.length(_from_sensor_m(found.ratio, zone), 2),
        spread=say.short_length(NINETY_PERCENT * found.sd * zone.best_m),
    )
    told = "; ".join(_lesson(lesson, zone) for lesson in found.lessons)
    return [(_("plane of focus found"), place), (_("learned from"), told)]


def _from_sensor_m(ratio: float, zone: FocusZone) -> float:
    return zone.from_sensor_m(zone.best_m * ratio)


def _lesson(lesson: KeptLesson, zone: FocusZone) -> str:
    """One mark or picture."""
    say = current()
    distance = say.length(_from_sensor_m(lesson.ratio, zone), 2)
    if lesson.blur is None:
        return _("mark, eyes at {distance}", distance=distance)
    times = say.figure(lesson.blur, 1)
    if lesson.attempt is None:
        return _(
            "picture, eyes at {distance}, blur {times} times the limit",
            distance=distance,
            times=times,
        )
    return _(
        "picture {n}, eyes at {distance}, blur {times} times the limit",
        n=lesson.attempt,
        distance=distance,
        times=times,
    )
