"""What a run goes by, in one line at its start: a slip in it would cost every distance."""

from __future__ import annotations

import math

from assist.guidance.assistant import Known
from assist.setup.set_up import SetUp


def line(chosen: SetUp, known: Known) -> str:
    """Lens, sensor, zone, body and feed, and what of them nobody stated."""
    lens, zone = chosen.lens, chosen.focus_zone
    far_m = zone.far_from_sensor_m
    far = f"{far_m:.2f} m" if math.isfinite(far_m) else "infinity"
    parts = [
        f"{lens.focal_length_mm:g} mm at f/{lens.f_number:g} focused at "
        f"{lens.focus_distance_m:.2f} m: sharp from {zone.near_from_sensor_m:.2f} m to {far} "
        "from the sensor plane",
        f"sensor {chosen.camera.sensor}"
        + ("" if "sensor" in chosen.camera.model_fields_set else ", assumed"),
        _body(chosen, known),
        _feed(chosen, known),
    ]
    return "; ".join(parts)


def _body(chosen: SetUp, known: Known) -> str:
    if known.person is not None:
        return "your own profile"
    stature_m = chosen.person.stature_m
    return "stature not stated" if stature_m is None else f"stature {stature_m:.2f} m"


def _feed(chosen: SetUp, known: Known) -> str:
    if known.feed is not None:
        return f"the feed's profile ({known.feed.method})"
    view = chosen.feed.stated_view
    if view is not None:
        return f"the feed shows {view[1]:g} degrees ({view[0]})"
    crop = "" if chosen.feed.crop == 1 else f", crop {chosen.feed.crop:g}"
    return f"the feed comes through the lens{crop}"
