"""What a run goes by, in one line at its start: a slip in it would cost every distance."""

from __future__ import annotations

import math

from assist.base.words import _, current
from assist.guidance.assistant import Known
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp


def in_one_line(set_up: SetUp, known: Known) -> str:
    """Lens, sensor, zone, body and feed, and what of them nobody stated."""
    parts = [_zone(set_up), _sensor(set_up), _body(set_up, known), _feed(set_up, known)]
    if FeedGeometry.of(set_up, known.feed, known.person).mirrored:
        parts.append(_("the feed's picture is mirrored, and put right"))
    return "; ".join(parts)


def _zone(set_up: SetUp) -> str:
    lens, zone, say = set_up.lens, set_up.focus_zone, current()
    far_m = zone.far_from_sensor_m
    return _(
        "{focal_length} mm at f/{f_number} focused at {focus} m: sharp from {near} m to {far} from "
        "the sensor plane",
        focal_length=say.decimal(f"{lens.focal_length_mm:g}"),
        f_number=say.decimal(f"{lens.f_number:g}"),
        focus=say.figure(lens.focus_distance_m, 2),
        near=say.figure(zone.near_from_sensor_m, 2),
        far=f"{say.figure(far_m, 2)} m" if math.isfinite(far_m) else _("infinity"),
    )


def _sensor(set_up: SetUp) -> str:
    sensor = set_up.camera.sensor
    if "sensor" in set_up.camera.model_fields_set:
        return _("sensor {sensor}", sensor=sensor)
    return _("sensor {sensor}, assumed", sensor=sensor)


def _body(set_up: SetUp, known: Known) -> str:
    people, statures_m = set_up.together.people, set_up.together.statures_m
    if people is not None and statures_m is None:
        return _("{n} people, heights not stated", n=people)
    if people is not None and statures_m is not None:
        told = " / ".join(current().figure(stature_m, 2) for stature_m in statures_m)
        return _("{n} people, heights from left to right {statures} m", n=people, statures=told)
    if known.person is not None:
        return _("your own profile")
    stature_m = set_up.person.stature_m
    if stature_m is None:
        return _("height not stated")
    return _("height {stature} m", stature=current().figure(stature_m, 2))


def _feed(set_up: SetUp, known: Known) -> str:
    if known.feed is not None:
        return _("the feed's profile ({method})", method=_METHODS[known.feed.method]())
    view = set_up.feed.stated_view
    if view is not None:
        along, angle_deg = view
        return _(
            "the feed shows {angle} degrees ({along})",
            angle=current().decimal(f"{angle_deg:g}"),
            along=_ALONG[along](),
        )
    if set_up.feed.crop == 1:
        return _("the feed comes through the lens")
    crop = current().decimal(f"{set_up.feed.crop:g}")
    return _("the feed comes through the lens, crop {crop}", crop=crop)


_METHODS = {
    "board": lambda: _("board"),
    "mark": lambda: _("mark"),
    "lens": lambda: _("lens"),
    "field of view": lambda: _("field of view"),
}
_ALONG = {
    "horizontal": lambda: _("horizontal"),
    "vertical": lambda: _("vertical"),
    "diagonal": lambda: _("diagonal"),
}
