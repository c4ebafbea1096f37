"""What a taught mark gives in narrow zones.

    python -m tests.benchmarks.narrow_zones --data FOLDER     # made by samples.rendering.visits

Rendered visits of people on whom no constant was set. The mark is taught by the reference view, in
which the eyes are in the plane of focus. Then every visit is judged as a run judges it, with the
plane put anywhere in and around the zone: the error of the visit stays what it is. A call is a
visit and a place of the plane of which it is said that the eyes are in focus. Every still is looked
at for a second, as a run looks at somebody who stands. Kept as results/narrow_zones.md.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from assist.distance import BodyDistance, TrackedDistance
from assist.distance.engine import DistanceEngine
from assist.distance.reference import ReferenceView
from assist.distance.tracking import DistanceTracker
from assist.guidance.focus_plane import MARK_SD, VISIT_SD
from assist.guidance.narrow_zone import half_depth
from assist.guidance.verdict import Judge
from assist.pose.mediapipe_backend import FACE_EVERY_S
from assist.setup.body import Person
from assist.setup.feed_profile import MARKED_LENS_SD
from optics.focus_zone import FocusZone
from optics.plane_of_focus import PlaneOfFocus
from tests.benchmarks import detections
from tests.benchmarks import visits as rendered
from tests.benchmarks.repeatability import LIMIT_PX, eyes_of
from tests.benchmarks.tables import GUIDE, keep, put_between, table

CONFUSION_M = math.hypot(36e-3, 24e-3) / 1500
Z_90 = 1.6449
_REFERENCE_LIGHT = "window"
_LOOKS, _MARKS = 15, 3
_PLACES = np.linspace(-2.0, 2.0, 41)
"""Where the eyes are, in half depths behind the plane of focus."""


@dataclass(frozen=True)
class Judged:
    """One visit against the taught mark.

    error: measured over true ratio to the reference, less one.   own_sd: as stated.
    mark_sd: of the reference view.   others: errors of two other visits of theirs.
    common_sd: of the scale before it was taught.
    """

    visit: rendered.Visit
    error: float
    own_sd: float
    mark_sd: float
    common_sd: float
    others: tuple[float, ...] = ()


def judged(people: Iterable[rendered.Visits]) -> list[Judged]:
    """Every visit that can be measured, against its reference."""
    found = []
    for group in people:
        first = _measured(group.reference, None)
        if not first:
            continue
        view, here = ReferenceView.of(first), []
        for visit in group.visits:
            told = _told(_measured(visit, view))
            if told is None:
                continue
            ratio = told.eyes_m / view.eyes_m / (visit.eyes_m / group.reference.eyes_m)
            own_sd = told.own_sd_m / told.eyes_m
            here.append(Judged(visit, ratio - 1, own_sd, view.own_sd, view.common_sd))
        stood = [one for one in here if one.visit.posture == "standing"]
        for one in here:
            others = [o.error for o in stood if o.visit is not one.visit]
            first_two = tuple(others[: _MARKS - 1])
            found.append(replace(one, others=first_two))
    return found


def _measured(visit: rendered.Visit, view: ReferenceView | None) -> list[BodyDistance]:
    """What a second of looking measures."""
    engine = DistanceEngine(visit.camera, Person(visit.stature_m), focal_sd=MARKED_LENS_SD)
    engine.refer(view)
    looks = detections.looks_at_picture(visit.feed, visit.feed.parent / "detections", _LOOKS)
    found = [engine.measure(pose, k * FACE_EVERY_S) for k, pose in enumerate(looks)]
    return [one for one in found if isinstance(one, BodyDistance)]


def _told(measured: list[BodyDistance]) -> TrackedDistance | None:
    """What the run's tracker tells at the end of it."""
    tracker, told = DistanceTracker(), None
    for k, body in enumerate(measured):
        told = tracker.update(k * FACE_EVERY_S, body)
    return told


ERRORS = (
    "visits", "number", "mean %", "median of size %", "95 % within %", "stated own sd %",
    "90 % interval holds",
)  # fmt: skip


def error_row(name: str, found: list[Judged]) -> list[str]:
    """Cells under ERRORS."""
    if len(found) < 5:
        return [name, str(len(found)), *["-"] * 5]
    error = np.array([one.error for one in found])
    sd = np.array([math.hypot(one.own_sd, one.mark_sd, VISIT_SD) for one in found])
    return [
        name,
        str(len(found)),
        f"{100 * error.mean():+.2f}",
        f"{100 * np.median(np.abs(error)):.2f}",
        f"{100 * np.percentile(np.abs(error), 95):.2f}",
        f"{100 * np.median([one.own_sd for one in found]):.2f}",
        f"{np.mean(np.abs(error) <= Z_90 * sd):.2f}",
    ]


CALLS = (
    "zone", "to each side", "untaught: calls", "one mark: called in the middle half",
    "wrong of calls", "three marks: called in the middle half", "wrong of calls",
)  # fmt: skip


def call_row(name: str, zone: FocusZone, found: list[Judged]) -> list[str]:
    """Cells under CALLS."""
    cells = [name, f"{100 * half_depth(zone):.1f} %"]
    cells.append(_calls(zone, found, 0)[2])
    for marks in (1, _MARKS):
        there, wrong, _ = _calls(zone, found, marks)
        cells += [there, wrong]
    return cells


def _calls(zone: FocusZone, found: list[Judged], marks: int) -> tuple[str, str, str]:
    """Share called in the middle half, wrong calls of all, and how many there are."""
    half = half_depth(zone)
    calls = wrong = middle = called_there = 0
    for one in found:
        plane = PlaneOfFocus.stated(math.hypot(one.common_sd, 0.01))
        sd = math.hypot(one.mark_sd, MARK_SD["stand-in"])
        for error in (0.0, *one.others)[:marks]:
            plane = plane.drifted(VISIT_SD).marked(1.0 + error, sd)
        own_sd = math.hypot(one.own_sd, VISIT_SD)
        for place in _PLACES:
            true_m = zone.best_m * (1 + place * half)
            read_m = true_m * (1 + one.error)
            p = plane.probabilities(zone, read_m, own_sd)
            called = p.within >= Judge.ENTER_IN_FOCUS
            calls += called
            wrong += called and not zone.holds(true_m)
            if abs(place) <= 0.5:
                middle += 1
                called_there += called
    share = f"{100 * wrong / calls:.1f} % of {calls}" if calls else "no call"
    return f"{100 * called_there / max(middle, 1):.0f} %", share, str(calls)


@dataclass(frozen=True)
class Pictured:
    """One visit of which the eyes' picture was measured.

    ratio: as read against the stated focus distance, of the person's own scale.   blur, blur_sd: in
    circles of confusion.
    """

    ratio: float
    own_sd: float
    blur: float
    blur_sd: float


def pictured(group: rendered.Visits) -> tuple[list[Pictured], float]:
    """The pictures of one person and lens, and where the plane lies on the scale of its readings.

    The scale is that of the middle of all the person's readings: no single one is right.
    """
    first = _measured(group.reference, None)
    if not first:
        return [], math.nan
    view, limit_px = ReferenceView.of(first), LIMIT_PX
    stated_m = group.set_up.stated_m - _sensor_offset_m(group.set_up)
    found, scales = [], []
    for visit in (group.reference, *group.visits):
        told = _told(_measured(visit, view))
        if told is None:
            continue
        scales.append(told.eyes_m / visit.eyes_m)
        eyes = None if visit.crop is None else eyes_of(visit, visit.crop).measured
        if eyes is None:
            continue
        own_sd = told.own_sd_m / told.eyes_m
        blur, blur_sd = eyes.width_px / limit_px, eyes.sd_px / limit_px
        found.append(Pictured(told.eyes_m / stated_m, own_sd, blur, blur_sd))
    plane = group.set_up.focus_from_lens_m * float(np.median(scales)) / stated_m
    return found, plane


def _sensor_offset_m(set_up: rendered.SetUp) -> float:
    """From the sensor to the lens, metres."""
    focal_m, n, stated_m = set_up.focal_length_m, set_up.f_number, set_up.stated_m
    return FocusZone.of(focal_m, n, stated_m, CONFUSION_M).sensor_offset_m


PICTURES = (
    "zone", "sets of three pictures", "within the half depth", "within a third of it",
    "90 % interval holds",
)  # fmt: skip


def picture_row(name: str, groups: list[rendered.Visits], zone: FocusZone) -> list[str]:
    """Cells under PICTURES: what three pictures of a person find, whatever three of theirs."""
    half, errors, held = half_depth(zone), [], []
    for group in groups:
        pictures, true = pictured(group)
        for three in itertools.combinations(pictures, 3):
            plane = PlaneOfFocus.stated(math.hypot(0.035, 0.03))
            for one in three:
                plane = plane.pictured(one.ratio, one.own_sd, one.blur, one.blur_sd, zone)
            errors.append(abs(plane.ratio / true - 1))
            held.append(abs(math.log(true) - plane.mean) <= Z_90 * plane.sd)
    if not errors:
        return [name, "0", "-", "-", "-"]
    error = np.array(errors)
    return [
        name,
        str(len(error)),
        f"{100 * np.mean(error < half):.0f} %",
        f"{100 * np.mean(error < half / 3):.0f} %",
        f"{np.mean(held):.2f}",
    ]


ZONES = (
    ("85 mm f/1.8 at 2.4 m", 0.085, 1.8, 2.4),
    ("85 mm f/1.8 at 4 m", 0.085, 1.8, 4.0),
    ("50 mm f/1.4 at 2 m", 0.050, 1.4, 2.0),
    ("35 mm f/1.4 at 2.5 m", 0.035, 1.4, 2.5),
)


def main() -> None:
    """Measure and keep the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True, help="the rendered visits")
    parser.add_argument("--guide", action="store_true", help="put a table into the guide")
    arguments = parser.parse_args()
    found = judged(rendered.load(arguments.data))
    standing = [one for one in found if one.visit.posture == "standing"]
    errors = [
        error_row("standing, head turned up to 30 degrees", standing),
        error_row("... up to 15 degrees", [o for o in standing if abs(o.visit.turned_deg) <= 15]),
        error_row(
            "... in another light",
            [o for o in standing if o.visit.light != _REFERENCE_LIGHT],
        ),
        *(
            error_row(f"... {person}", [o for o in standing if o.visit.person == person])
            for person in sorted({o.visit.person for o in standing})
        ),
        error_row("seated, reference standing", [o for o in found if o not in standing]),
    ]
    calls = [
        call_row(name, FocusZone.of(f, n, s, CONFUSION_M), standing) for name, f, n, s in ZONES
    ]
    groups = list(rendered.load(arguments.data))
    pictures = [
        picture_row(
            name,
            [g for g in groups if math.isclose(g.set_up.focal_length_m, f)
             and math.isclose(g.set_up.stated_m, s)],
            FocusZone.of(f, n, s, CONFUSION_M),
        )
        for name, f, n, s in ZONES
    ]  # fmt: skip
    people = len({one.visit.person for one in found})
    lines = [
        "# Narrow zones with a taught mark",
        "",
        f"{len(found)} rendered visits of {people} people on whom no constant was set, looked "
        "at for a second each. Errors of the ratio of a visit's distance to the reference's.",
        "",
        table(ERRORS, errors),
        "",
        "Of all visits standing, the plane of focus anywhere from two half depths before to two "
        "behind the eyes:",
        "",
        table(CALLS, calls),
        "",
        "Where the plane is found by three pictures of a person, whichever of theirs, with the "
        "focus up to 5 % off its stated distance and no mark taught:",
        "",
        table(PICTURES, pictures),
    ]
    keep("narrow_zones", "\n".join(lines))
    if arguments.guide:
        put_between(GUIDE / "narrow.md", "narrow_zones", table(CALLS, calls))


if __name__ == "__main__":
    main()
