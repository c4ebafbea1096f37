"""What a plan's controls ask and the page shows: numbers to draw, sentences for the rest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from assist.base import terms
from assist.base.errors import UserError
from assist.base.words import _, current
from assist.guidance.hazards import cautions
from assist.plan import formats
from assist.plan.figure_outline import outline
from assist.plan.focus_for_framing import focus_for
from assist.plan.formats import LengthFormat
from assist.plan.lens_owned import lens_owned
from assist.plan.plan import Plan
from assist.plan.planning import plan_of
from assist.plan.procedure import steps
from assist.plan.search import search_set_ups
from assist.plan.search_request import lens_choices, request_from_values
from assist.plan.sentences import criterion_line, headline, narrow_line, set_by_line, short_line
from assist.setup import set_up as set_ups
from assist.setup.stated import put

FIELDS = {
    "name": "name",
    "lens": "lens.focal_length_mm",
    "aperture": "lens.f_number",
    "focus": "lens.focus_distance_m",
    "sensor": "camera.sensor",
    "orientation": "camera.orientation",
    "stature": "person.stature_m",
    "posture": "person.posture",
    "framing": "framing.shot_size",
    "light": "exposure.light_ev100",
    "background": "place.background_distance_m",
    "criterion": "sharpness.criterion",
}
"""The page's controls, and the place of each in a set-up's values."""
_WISHES = {
    "room_before": "room_before_m",
    "room_behind": "room_behind_m",
    "farthest": "farthest_m",
    "iso_max": "highest_iso",
}
_MOST_CHOICES = 12
_MOST_TEXT = 200

Given = dict[str, str]


@dataclass(frozen=True)
class Planned:
    """A plan, and all that the page shows of it."""

    plan: Plan
    shown: dict[str, Any]


def values_of(given: Given) -> dict[str, Any]:
    """A set-up's nested values from what the controls hold, as people type it; empty ones left out.

    Raises UserError for a text that is too long to be meant.
    """
    values: dict[str, Any] = {}
    for control, place in FIELDS.items():
        text = _text(given, control)
        if text:
            put(values, place, text)
    return values


def plan(given: Given) -> Planned:
    """What follows from a set-up; without a distance, from where its framing fits.

    Raises UserError naming the control that is wrong.
    """
    values, show = values_of(given), LengthFormat(current().units)
    values.setdefault("lens", {})
    reason = None
    if "focus_distance_m" not in values["lens"] and values.get("framing", {}).get("shot_size"):
        found = focus_for(values, _("plan"), _named(), show)
        values["lens"]["focus_distance_m"] = found.focus_distance_m
        reason = found.reason
    set_up = set_ups.from_values(values, _("plan"), _named())
    made = plan_of(set_up, reason)
    return Planned(made, _shown(made, show))


def search(given: Given) -> dict[str, Any]:
    """The set-ups that do what is wanted, best first, or why there is none and what would help."""
    values, show = values_of(given), LengthFormat(current().units)
    values.pop("lens", None)
    values.pop("name", None)
    for control, place in _WISHES.items():
        text = _text(given, control)
        if text:
            values[place] = text
    owned = [lens_owned(one) for one in _text(given, "lenses").splitlines() if one.strip()]
    if not owned:
        raise UserError(_("name the lenses you own, one in a line, such as 50mm f/1.8"))
    names = {**_named(), **{place: control for control, place in _WISHES.items()}}
    outcome = search_set_ups(request_from_values(values, names), lens_choices(owned), show)
    return {
        "choices": [
            {
                "lens": f"{1000 * choice.focal_length_m:g}mm",
                "aperture": choice.aperture,
                "focus": f"{choice.focus_distance_m:.2f}m",
                "before": show.length(choice.in_front_m),
                "behind": show.length(choice.behind_m),
                "shutter": choice.shutter or "",
                "iso": choice.iso or "",
                "reason": choice.reason,
            }
            for choice in outcome.choices[:_MOST_CHOICES]
        ],
        "why_none": outcome.why_none,
        "help": [suggestion.text for suggestion in outcome.suggestions],
    }


def printed(made: Plan) -> bytes:
    """The sheet to print."""
    from assist.plan import sheet  # noqa: PLC0415  (what draws it takes a second to load)

    return sheet.page(made, LengthFormat(current().units))


def _named() -> dict[str, str]:
    """What an error calls a value: the control that it stands in."""
    names = {
        "name": _("name"),
        "lens": _("lens"),
        "aperture": _("aperture"),
        "focus": _("distance"),
        "sensor": _("sensor"),
        "orientation": _("orientation"),
        "stature": _("height"),
        "posture": _("posture"),
        "framing": _("framing"),
        "light": _("light (EV)"),
        "background": _("background"),
        "criterion": _("counts as sharp"),
    }
    return {place: names[control] for control, place in FIELDS.items()}


def _text(given: Given, control: str) -> str:
    text = given.get(control, "")
    if not isinstance(text, str) or len(text) > _MOST_TEXT * 10:
        raise UserError(_("{what}: too long to be meant", what=control))
    return text.strip()


def _shown(made: Plan, show: LengthFormat) -> dict[str, Any]:
    zone, aim = made.zone, made.framing.aim
    lines = [
        line
        for line in (
            set_by_line(made, show),
            short_line(made, show),
            narrow_line(made, show),
            criterion_line(made),
        )
        if line
    ]
    return {
        "headline": headline(made, show),
        "narrow": made.narrow is not None,
        "lines": lines,
        "steps": [{"title": step.title, "text": step.text} for step in steps(made, show)],
        "cautions": list(cautions(made.set_up, current())),
        "focus": f"{zone.best_from_sensor_m:.2f}m",
        "drawing": {
            "near_m": zone.near_from_sensor_m,
            "focus_m": zone.best_from_sensor_m,
            "far_m": None if math.isinf(zone.far_from_sensor_m) else zone.far_from_sensor_m,
            "labels": [
                show.length(zone.near_from_sensor_m),
                show.length(zone.best_from_sensor_m),
                "∞" if math.isinf(zone.far_m) else show.length(zone.far_from_sensor_m),
            ],
            "camera_height_m": aim.camera_height_m,
            "frame_m": [aim.bottom_m, aim.top_m],
            "upright_distance_m": aim.upright_distance_m,
            "figure": [part.round(4).tolist() for part in outline(made.set_up.person.figure)],
        },
        "softness": [
            {
                "at": terms.told(one.at),
                "distance": show.length(one.distance_m),
                "disc": formats.millimetres(one.seen.diameter_m),
            }
            for one in made.blurs
        ],
    }
