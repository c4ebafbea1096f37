"""A plan in single sentences, for the terminal, the sheet and the drawings alike."""

from __future__ import annotations

import math

from assist.base import terms
from assist.base.words import _
from assist.guidance import narrow_zone
from assist.plan import formats
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan


def headline(plan: Plan, show: LengthFormat) -> str:
    """The zone in one sentence."""
    zone = plan.zone
    near = show.length(zone.near_from_sensor_m)
    if math.isinf(zone.far_m):
        return _("In focus from {near} to infinity.", near=near)
    return _(
        "In focus from {near} to {far}: {before} in front of the mark, {behind} behind it.",
        near=near,
        far=show.length(zone.far_from_sensor_m),
        before=show.length(zone.in_front_m),
        behind=show.length(zone.behind_m),
    )


def narrow_line(plan: Plan, show: LengthFormat) -> str | None:
    """That the zone is too narrow for the live run by itself, and what to do about it."""
    if plan.narrow is None:
        return None
    return _("For assist live: {line}.", line=narrow_zone.told(plan.narrow, show.length))


def set_up_line(plan: Plan, show: LengthFormat) -> str:
    """Lens, aperture, distance, sensor and orientation in one line."""
    lens, camera = plan.set_up.lens, plan.set_up.camera
    return _(
        "{focal_length}, {aperture}, focused at {distance}; sensor {sensor}, {orientation}",
        focal_length=formats.focal_length(lens.focal_length_mm),
        aperture=formats.f_number_set(lens.f_number),
        distance=show.length(plan.zone.best_from_sensor_m),
        sensor=camera.sensor,
        orientation=terms.told(camera.orientation),
    )


def set_by_line(plan: Plan, show: LengthFormat) -> str | None:
    """Where the focus distance comes from, if it was worked out."""
    if plan.focus_set_by is None:
        return None
    return _(
        "The focus distance is {reason}: {distance}.",
        reason=plan.focus_set_by,
        distance=show.length(plan.zone.best_from_sensor_m),
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def short_line(plan: Plan, show: LengthFormat) -> str | None:
    """That the shot size wanted does not fit, and where to be for it."""
    short, by = plan.framing.short_of, plan.framing.looser_by
    if short is None or by is None:
        return None
    name, share = _capital(terms.told(short.name)), formats.percent(-by)
    said = _("{shot_size} does not fit: the frame is {share} short.", shot_size=name, share=share)
    return f"{said} {_where_it_fits(plan, short.fits_from_m, show)}"


def _where_it_fits(plan: Plan, from_m: float, show: LengthFormat) -> str:
    if math.isinf(from_m):
        return _("It fits from nowhere with the camera at this height and tilt.")
    distance = show.least(from_m)
    background_m = plan.set_up.place.background_distance_m
    if background_m is not None and background_m <= from_m:
        return _("It fits from {distance}, beyond the background.", distance=distance)
    if plan.person.is_seated:
        return _("Sit at {distance}, and focus there.", distance=distance)
    return _("Stand at {distance}, and focus there.", distance=distance)


def criterion_line(plan: Plan) -> str:
    """What counts as sharp, and where distances start."""
    criterion = plan.set_up.criterion
    return _(
        "Sharp means a blur disc up to {diameter} on the sensor ({criterion}). Distances start at "
        "the sensor plane mark.",
        diameter=formats.millimetres(criterion.circle_of_confusion_m),
        criterion=terms.criterion(criterion.basis),
    )
