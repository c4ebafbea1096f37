"""What a session's folder tells, gathered for the page and the PDF; its facts in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from assist.base import terms
from assist.base.errors import UserError
from assist.base.files import printable
from assist.base.words import _
from assist.report import focus_found, lessons
from assist.report.formats import metres, number
from assist.report.photographs import Photograph, photographs
from assist.review.best_attempt import best_attempt, best_pictures, read_review
from assist.review.checked import CheckedPicture
from assist.session import folder as session
from assist.session import rehearsal
from assist.session.folder import Attempt
from assist.session.rehearsal import RunScore
from assist.setup import set_up as set_ups
from assist.setup.set_up import CameraPart, SetUp
from optics import framing
from optics import lens as thin_lens
from optics.focus_zone import FocusZone


@dataclass(frozen=True)
class SessionSummary:
    """All that a report says.

    best: the attempt to repeat: the sharpest where pictures were checked, else the likeliest.
    set_up_facts, plan_facts: names and values in words.
    reviewed: the checked pictures by attempt, the best of each.
    photographs: some of them, small, the best first.   pictures: how many were checked.
    keep: what to keep or change next time, the most useful first.
    """

    name: str
    folder: Path
    set_up: SetUp
    zone: FocusZone
    attempts: list[Attempt]
    best: Attempt | None
    rehearsals: list[RunScore]
    reviewed: dict[int, CheckedPicture]
    photographs: list[Photograph]
    pictures: int
    set_up_facts: list[tuple[str, str]]
    plan_facts: list[tuple[str, str]]
    keep: list[str]


def gather(folder: Path) -> SessionSummary:
    """Read a session. Raises UserError when it is none or is damaged."""
    if not folder.is_dir():
        raise UserError(_("session folder {folder} does not exist", folder=folder))
    if not session.is_session(folder):
        raise UserError(
            _(
                "{folder} is not a session: it holds no {file}",
                folder=folder,
                file=session.SET_UP_FILE,
            )
        )
    set_up = set_ups.load(folder / session.SET_UP_FILE)
    attempts = session.read_record(folder)
    scores = rehearsal.read_scores(folder)
    review = read_review(folder)
    checked = review.pictures
    reviewed = best_pictures(checked)
    zone = set_up.focus_zone
    others = {a.attempt: unlike for a in attempts if (unlike := session.unlike(a, set_up))}
    alike = [a for a in attempts if a.attempt not in others]
    theirs = {number: p for number, p in reviewed.items() if number not in others}
    return SessionSummary(
        name=set_up.name or printable(folder.resolve().name),
        folder=folder,
        set_up=set_up,
        zone=zone,
        attempts=attempts,
        best=best_attempt(alike, reviewed),
        rehearsals=scores,
        reviewed=reviewed,
        photographs=photographs(folder, attempts, review, reviewed),
        pictures=len(checked),
        set_up_facts=_set_up_facts(set_up),
        plan_facts=[*plan_facts(set_up, zone), *focus_found.facts(folder, zone)],
        keep=[
            *lessons.to_keep_or_change(set_up, alike, scores, theirs),
            *lessons.of_another_zone(others),
        ],
    )


def _camera_in_words(camera: CameraPart) -> str:
    """How it stood: what repeating needs besides the lens."""
    height = (
        _("height not given")
        if camera.height_m is None
        else _("lens {height} high", height=metres(camera.height_m))
    )
    return ", ".join((terms.told(camera.orientation), height, _tilt(camera.tilt_deg)))


def _tilt(tilt_deg: float | None) -> str:
    if tilt_deg is None:
        return _("tilt not given")
    if tilt_deg == 0:
        return _("level")
    angle = number(f"{abs(tilt_deg):g}\u00b0")
    return (
        _("tilted {angle} down", angle=angle)
        if tilt_deg > 0
        else _("tilted {angle} up", angle=angle)
    )


def _set_up_facts(set_up: SetUp) -> list[tuple[str, str]]:
    lens, sensor, criterion = set_up.lens, set_up.sensor, set_up.criterion
    stature_m = set_up.person.stature_m
    return [
        (
            _("lens"),
            _(
                "{focal_length} at {aperture}",
                focal_length=number(f"{lens.focal_length_mm:g} mm"),
                aperture=number(f"f/{lens.f_number:g}"),
            ),
        ),
        (
            _("focused at"),
            _("{distance} from the sensor plane", distance=metres(lens.focus_distance_m)),
        ),
        (_("sensor"), number(f"{sensor.width_m * 1000:g} x {sensor.height_m * 1000:g} mm")),
        (
            _("counts as sharp"),
            _(
                "{diameter} on the sensor ({criterion})",
                diameter=number(f"{criterion.circle_of_confusion_m * 1000:.3f} mm"),
                criterion=terms.criterion(criterion.basis),
            ),
        ),
        (_("camera"), _camera_in_words(set_up.camera)),
        (_("stature"), _("not given") if stature_m is None else metres(stature_m)),
        (
            _("feed"),
            _("through the taking lens") if set_up.feed.through == "taking-lens" else _("own lens"),
        ),
    ]


def plan_facts(set_up: SetUp, zone: FocusZone) -> list[tuple[str, str]]:
    """What follows from a set-up, names and values in words."""
    f_m, s_m = set_up.focal_length_m, set_up.focus_lens_distance_m
    hyperfocal_m = float(
        thin_lens.hyperfocal_m(f_m, set_up.lens.f_number, set_up.criterion.circle_of_confusion_m)
    )
    magnification = float(thin_lens.magnification(f_m, s_m))
    across_m, up_m = framing.frame_sides_m(set_up.sensor, set_up.camera.orientation)
    limits = _(
        "{near} to {far}",
        near=metres(zone.near_from_sensor_m),
        far=metres(zone.far_from_sensor_m),
    )
    covered = _(
        "{width} by {height} m, square to the axis of the lens",
        width=number(f"{across_m / magnification:.2f}"),
        height=number(f"{up_m / magnification:.2f}"),
    )
    return [
        (_("sharp from"), limits),
        (_("room in front of the mark"), metres(zone.in_front_m)),
        (_("room behind it"), _("no end") if math.isinf(zone.far_m) else metres(zone.behind_m)),
        (_("hyperfocal distance"), metres(hyperfocal_m)),
        (_("picture covers at the mark"), covered),
    ]
