"""A plan as tables in the terminal."""

from __future__ import annotations

import math

from rich import box
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from assist.plan import formats
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan, PlannedPerson


def headline(plan: Plan, show: LengthFormat) -> str:
    """The zone in one sentence."""
    zone = plan.zone
    if math.isinf(zone.far_from_sensor_m):
        return f"In focus from {show.length(zone.near_from_sensor_m)} to infinity."
    return (
        f"In focus from {show.length(zone.near_from_sensor_m)} to {show.length(zone.far_from_sensor_m)}: "
        f"{show.length(zone.in_front_m)} before the mark, {show.length(zone.behind_m)} behind it."
    )


def set_up_line(plan: Plan, show: LengthFormat) -> str:
    """Lens, aperture, distance, sensor and criterion in one line."""
    lens, camera = plan.set_up.lens, plan.set_up.camera
    return (
        f"{lens.focal_length_mm:g} mm, f/{lens.f_number:g}, focused at "
        f"{show.length(plan.zone.best_from_sensor_m)}; sensor {camera.sensor}, {camera.orientation}"
    )


def set_by_line(plan: Plan, show: LengthFormat) -> str | None:
    """Where the focus distance comes from, if it was worked out."""
    if plan.focus_set_by is None:
        return None
    return (
        f"The focus distance is {plan.focus_set_by}: {show.length(plan.zone.best_from_sensor_m)}."
    )


def short_line(plan: Plan, show: LengthFormat) -> str | None:
    """That the shot size wanted does not fit, and where to be for it."""
    short, by = plan.framing.short_of, plan.framing.looser_by
    if short is None or by is None:
        return None
    line = f"{short.name.capitalize()} does not fit: the frame is {formats.percent(-by)} short. "
    if math.isinf(short.fits_from_m):
        return line + "It fits from nowhere with the camera at this height and tilt."
    place = f"{'Sit' if plan.person.is_seated else 'Stand'} at {show.least(short.fits_from_m)}"
    background = plan.set_up.place.background_distance_m
    if background is not None and background <= short.fits_from_m:
        return line + f"It fits from {show.least(short.fits_from_m)}, beyond the background."
    return line + f"{place}, and focus there."


def criterion_line(plan: Plan) -> str:
    """What counts as sharp, and where distances start."""
    return (
        f"Sharp means a blur disc up to {formats.millimetres(plan.set_up.criterion.circle_of_confusion_m)} on "
        f"the sensor ({plan.set_up.criterion.basis}). Distances start at the sensor plane mark."
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


def _zone(plan: Plan, show: LengthFormat) -> RenderableType:
    zone = plan.zone
    return _section(
        "Focus zone",
        _facts(
            [
                ("near limit", show.length(zone.near_from_sensor_m)),
                ("far limit", show.length(zone.far_from_sensor_m)),
                ("room before the mark", show.length(zone.in_front_m)),
                ("room behind the mark", show.length(zone.behind_m)),
                ("hyperfocal distance", show.length(plan.hyperfocal_m)),
            ]
        ),
    )


def _eyes(from_top: float) -> str:
    """Where in the frame the eyes are, as a share of its height."""
    if not 0 <= from_top <= 1:
        return f"out of the frame, {'above' if from_top < 0 else 'below'} it"
    return f"{formats.percent(from_top)} of the height down from the top"


def _who(person: PlannedPerson, show: LengthFormat) -> str:
    """Who is planned for, and how to say it otherwise."""
    said = formats.person(person, show)
    if person.posture_is_assumed:
        return said + ": --posture seated if you sit"
    if person.seat_height_is_assumed:
        return said + ": --seat-height says yours"
    return said


def _framing(plan: Plan, show: LengthFormat) -> RenderableType:
    framed, aim = plan.framing, plan.framing.aim
    if framed.named is None or framed.looser_by is None:
        size = "tighter than head and shoulders"
    elif framed.short_of is not None:
        size = (
            f"{framed.named} does NOT fit: the frame is {formats.percent(-framed.looser_by)} short"
        )
    else:
        name = formats.shot_size(framed.named, plan.person)
        size = f"{name}, {formats.percent(framed.looser_by)} to spare"
    rows = [
        ("person", _who(plan.person, show)),
        ("picture", size),
        ("camera height", f"{show.length(aim.camera_height_m)}, {formats.tilt(aim.tilt_rad)}"),
        (
            "frame at the person",
            f"from {show.length(aim.bottom_m)} to {show.length(aim.top_m)} above the ground",
        ),
        ("eyes", f"{show.length(plan.person.eyes_m)} high, {_eyes(aim.eyes_from_top)}"),
    ]
    if plan.person.is_seated:
        reach = show.length(plan.person.before_eyes_m)
        rows.append(("feet", f"about {reach} nearer to the camera than the eyes"))
    sizes = grid("shot size", "fits from", "at the mark")
    for fit in framed.sizes:
        nowhere = math.isinf(fit.fits_from_m)
        sizes.add_row(
            formats.shot_size(fit.name, plan.person),
            "nowhere" if nowhere else show.least(fit.fits_from_m),
            "fits" if fit.fits else "does not fit" if nowhere else "too near",
        )
    fields = grid("field covered", "distance", "width x height")
    for field in plan.fields:
        fields.add_row(
            field.at, show.length(field.distance_m), show.size(field.width_m, field.height_m)
        )
    body = Group(_facts(rows), Text(""), sizes, Text(""), fields)
    return _section(f"Framing, {framed.orientation}", body)


def _softness(plan: Plan, show: LengthFormat) -> RenderableType:
    table = grid("blur disc", "distance", "on the sensor", "of the width", "in pixels")
    for blur in plan.blurs:
        pixels = blur.seen.pixels
        table.add_row(
            blur.at,
            show.length(blur.distance_m),
            formats.millimetres(blur.seen.diameter_m),
            formats.percent(blur.seen.share_of_width),
            "-" if pixels is None else f"{pixels:.1f}",
        )
    own = plan.diffraction
    rows = [
        ("diffraction (Airy disc)", formats.millimetres(own.airy_m)),
        ("with defocus at the limits", f"{formats.millimetres(own.total_at_limits_m)} (estimate)"),
        ("softens even the mark beyond", formats.f_number(own.softens_beyond_f_number)),
    ]
    if own.sharpest_for_zone_f_number is not None:
        rows.append(("sharpest at these limits", formats.f_number(own.sharpest_for_zone_f_number)))
    return _section("Softness", Group(table, Text(""), _facts(rows)))


def _apertures(plan: Plan, show: LengthFormat) -> RenderableType:
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
            formats.millimetres(change.airy_m),
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
            formats.movement(limit.movement, plan.person),
            formats.shutter_time(limit.longest_s),
            "-" if limit.shutter is None else formats.shutter(limit.shutter),
            f"{limit.speed_m_s:g} m/s",
        )
    if part.light_ev100 is None:
        note = Text("Give the light (--ev or --metered) to see shutter times and ISO speeds.")
        return _section("Shutter time", Group(moving, Text(""), note))
    pairs = grid("ISO", "shutter", "freezes")
    for pair in part.pairs:
        freezes = ", ".join(formats.movement(name, plan.person) for name in pair.freezes)
        pairs.add_row(pair.iso, formats.shutter(pair.shutter), freezes or "-")
    title = (
        f"Shutter time and ISO at f/{plan.set_up.lens.f_number:g}, light EV {part.light_ev100:.3g}"
    )
    return _section(title, Group(moving, Text(""), pairs))


def _on_the_place(plan: Plan, show: LengthFormat) -> RenderableType:
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
            f"turn of {formats.degrees(turn.angle_rad)}, plane {show.length(turn.shift_m)} behind "
            f"the eyes ({formats.percent(turn.share_of_room)} of the room before the mark)",
        ),
        (
            "way to the mark",
            f"{formats.seconds(walk.needed_s)} at {walk.speed_m_s:g} m/s to be there and still: "
            f"{timer}",
        ),
    ]
    return _section("On the place", Group(_facts(rows), Text(""), marks))


def print_head(plan: Plan, show: LengthFormat, console: Console) -> None:
    """The set-up, the zone in a sentence, where to be instead if need be, what counts as sharp."""
    console.print(Text(set_up_line(plan, show)))
    if (set_by := set_by_line(plan, show)) is not None:
        console.print(Text(set_by))
    if (short := short_line(plan, show)) is not None:
        console.print(Text(short, style="bold"))
    console.print(Text(headline(plan, show), style="bold"))
    console.print(Text(criterion_line(plan)))


def print_sections(
    plan: Plan, show: LengthFormat, console: Console, *, brief: bool = False
) -> None:
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
