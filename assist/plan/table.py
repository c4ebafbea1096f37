"""A plan as tables in the terminal."""

from __future__ import annotations

import math

from rich import box
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from assist.plan import shown
from assist.plan.forward import Plan
from assist.plan.shown import Shown


def headline(plan: Plan, show: Shown) -> str:
    """The zone in one sentence."""
    zone = plan.zone
    if math.isinf(zone.far_m):
        return f"In focus from {show.length(zone.near_m)} to infinity."
    return (
        f"In focus from {show.length(zone.near_m)} to {show.length(zone.far_m)}: "
        f"{show.length(zone.in_front_m)} before the mark, {show.length(zone.behind_m)} behind it."
    )


def set_up_line(plan: Plan, show: Shown) -> str:
    """Lens, aperture, distance, sensor and criterion in one line."""
    lens, camera = plan.set_up.lens, plan.set_up.camera
    return (
        f"{lens.focal_length_mm:g} mm, f/{lens.f_number:g}, focused at "
        f"{show.length(plan.zone.focus_m)}; sensor {camera.sensor}, {camera.orientation}"
    )


def criterion_line(plan: Plan) -> str:
    """What counts as sharp, and where distances start."""
    return (
        f"Sharp means a blur disc up to {shown.millimetres(plan.zone.circle_of_confusion_m)} on "
        f"the sensor ({plan.zone.criterion}). Distances start at the sensor plane mark."
    )


def _section(title: str, body: RenderableType) -> RenderableType:
    return Group(Text(f"\n{title}", style="bold"), Padding(body, (0, 0, 0, 2)))


def _facts(rows: list[tuple[str, str]]) -> Table:
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column()
    for name, value in rows:
        table.add_row(name, value)
    return table


def grid(*headings: str) -> Table:
    """An empty table with these headings: text left, numbers right."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    for index, heading in enumerate(headings):
        table.add_column(heading, justify="left" if index == 0 else "right")
    return table


def _zone(plan: Plan, show: Shown) -> RenderableType:
    zone = plan.zone
    return _section(
        "Focus zone",
        _facts(
            [
                ("near limit", show.length(zone.near_m)),
                ("far limit", show.length(zone.far_m)),
                ("room before the mark", show.length(zone.in_front_m)),
                ("room behind the mark", show.length(zone.behind_m)),
                ("hyperfocal distance", show.length(zone.hyperfocal_m)),
            ]
        ),
    )


def _eyes(from_top: float) -> str:
    """Where in the frame the eyes are, as a share of its height."""
    if not 0 <= from_top <= 1:
        return f"out of the frame, {'above' if from_top < 0 else 'below'} it"
    return f"{shown.percent(from_top)} of the height down from the top"


def _framing(plan: Plan, show: Shown) -> RenderableType:
    framed, aim = plan.framing, plan.framing.aim
    if framed.named is None or framed.looser_by is None:
        size = "tighter than head and shoulders"
    elif framed.looser_by < 0:
        size = f"{framed.named} does NOT fit: the frame is {shown.percent(-framed.looser_by)} short"
    else:
        size = f"{framed.named}, {shown.percent(framed.looser_by)} to spare"
    stature = show.length(framed.stature_m)
    rows = [
        ("person of " + stature + (" (assumed)" if framed.stature_is_assumed else ""), size),
        ("camera height", f"{show.length(aim.camera_height_m)}, {shown.tilt(aim.tilt_rad)}"),
        (
            "frame at the person",
            f"from {show.length(aim.bottom_m)} to {show.length(aim.top_m)} above the ground",
        ),
        ("eyes", _eyes(aim.eyes_from_top)),
    ]
    sizes = grid("shot size", "fits from", "at the mark")
    for fit in framed.sizes:
        sizes.add_row(fit.name, show.length(fit.fits_from_m), "fits" if fit.fits else "too near")
    fields = grid("field covered", "distance", "width x height")
    for field in plan.fields:
        fields.add_row(
            field.at, show.length(field.distance_m), show.size(field.width_m, field.height_m)
        )
    body = Group(_facts(rows), Text(""), sizes, Text(""), fields)
    return _section(f"Framing, {framed.orientation}", body)


def _softness(plan: Plan, show: Shown) -> RenderableType:
    table = grid("blur disc", "distance", "on the sensor", "of the width", "in pixels")
    for blur in plan.blurs:
        pixels = blur.seen.pixels
        table.add_row(
            blur.at,
            show.length(blur.distance_m),
            shown.millimetres(blur.seen.diameter_m),
            shown.percent(blur.seen.share_of_width),
            "-" if pixels is None else f"{pixels:.1f}",
        )
    own = plan.diffraction
    rows = [
        ("diffraction (Airy disc)", shown.millimetres(own.airy_m)),
        ("with defocus at the limits", f"{shown.millimetres(own.total_at_limits_m)} (estimate)"),
        ("softens even the mark beyond", shown.f_number(own.softens_beyond_f_number)),
    ]
    if own.sharpest_for_zone_f_number is not None:
        rows.append(("sharpest at these limits", shown.f_number(own.sharpest_for_zone_f_number)))
    return _section("Softness", Group(table, Text(""), _facts(rows)))


def _apertures(plan: Plan, show: Shown) -> RenderableType:
    table = grid("aperture", "light", "before", "behind", "Airy disc", "shutter", "or ISO")
    present = next(c for c in plan.exposure.apertures if c.stops == 0)
    for change in plan.exposure.apertures:
        here = change is present
        light = "0" if here else f"{-change.stops:+.2g}"
        table.add_row(
            f"f/{change.aperture}",
            f"{light} stops",
            show.length(change.in_front_m),
            show.length(change.behind_m),
            shown.millimetres(change.airy_m),
            _restoring(change.shutter, present.shutter, change.stops, "s"),
            _restoring(change.iso, present.iso, change.stops, ""),
            style="bold" if here else None,
        )
    return _section("What another aperture gives and costs", table)


def _restoring(label: str | None, present: str | None, stops: float, unit: str) -> str:
    """The value that restores the exposure; by what to multiply where the present one is not known.

    A dash where the dial has no such value.
    """
    if label is not None:
        return f"{label} {unit}".strip()
    if present is not None:
        return "-"
    factor = 2.0**stops
    if factor == 1:
        return "as it is"
    return f"x {factor:.3g}" if factor >= 1 else f"/ {1 / factor:.3g}"


def _exposure(plan: Plan) -> RenderableType:
    part = plan.exposure
    moving = grid("movement", "longest shutter", "on the dial", "speed")
    for limit in plan.motion:
        moving.add_row(
            limit.movement,
            shown.shutter_time(limit.longest_s),
            "-" if limit.shutter is None else shown.shutter(limit.shutter),
            f"{limit.speed_m_s:g} m/s",
        )
    if part.light_ev100 is None:
        note = Text("Give the light (--ev or --metered) to see shutter times and ISO speeds.")
        return _section("Shutter time", Group(moving, Text(""), note))
    pairs = grid("ISO", "shutter", "freezes")
    for pair in part.pairs:
        pairs.add_row(pair.iso, shown.shutter(pair.shutter), ", ".join(pair.freezes) or "-")
    title = (
        f"Shutter time and ISO at f/{plan.set_up.lens.f_number:g}, light EV {part.light_ev100:.3g}"
    )
    return _section(title, Group(moving, Text(""), pairs))


def _on_the_place(plan: Plan, show: Shown) -> RenderableType:
    turn, walk = plan.recomposing, plan.walk
    marks = grid("mark on the ground", "along the ground", "stretched from the camera")
    for mark in plan.ground_marks:
        marks.add_row(mark.at, show.length(mark.along_ground_m), show.length(mark.stretched_m))
    timer = (
        "no usual self-timer is long enough"
        if walk.shortest_timer_s is None
        else f"self-timer of {walk.shortest_timer_s:g} s"
    )
    rows = [
        (
            "focus on the eyes, recompose",
            f"turn of {shown.degrees(turn.angle_rad)}, plane {show.length(turn.shift_m)} behind "
            f"the eyes ({shown.percent(turn.share_of_room)} of the room before the mark)",
        ),
        ("way to the mark", f"{shown.seconds(walk.needed_s)} to be there and still: {timer}"),
    ]
    return _section("On the place", Group(_facts(rows), Text(""), marks))


def print_head(plan: Plan, show: Shown, console: Console) -> None:
    """The set-up, the zone in a sentence, and what counts as sharp."""
    console.print(Text(set_up_line(plan, show)))
    console.print(Text(headline(plan, show), style="bold"))
    console.print(Text(criterion_line(plan)))


def print_sections(plan: Plan, show: Shown, console: Console, *, brief: bool = False) -> None:
    """Everything in tables, or zone and framing only."""
    parts = [_zone(plan, show), _framing(plan, show)]
    if not brief:
        parts += [
            _softness(plan, show),
            _exposure(plan),
            _apertures(plan, show),
            _on_the_place(plan, show),
        ]
    for part in parts:
        console.print(part)
