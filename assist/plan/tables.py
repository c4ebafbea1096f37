"""A plan as tables in the terminal."""

from __future__ import annotations

import math

from rich import box
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from assist.base import terms
from assist.base.words import _
from assist.plan import formats
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan, PlannedPerson
from assist.plan.sentences import (
    criterion_line,
    headline,
    narrow_line,
    set_by_line,
    set_up_line,
    short_line,
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
    rows = [
        (_("room in front of the mark"), show.length(zone.in_front_m)),
        (_("room behind the mark"), show.length(zone.behind_m)),
        (_("sharp from"), show.length(zone.near_from_sensor_m)),
        (_("sharp to"), show.length(zone.far_from_sensor_m)),
        (_("hyperfocal distance"), show.length(plan.hyperfocal_m)),
    ]
    return _section(_("Focus zone"), _facts(rows))


def _eyes(plan: Plan, show: LengthFormat) -> str:
    """How high the eyes are, and where in the frame, as a share of its height."""
    height, from_top = show.length(plan.person.eyes_m), plan.framing.aim.eyes_from_top
    if from_top < 0:
        return _("{height} high, out of the frame, above it", height=height)
    if from_top > 1:
        return _("{height} high, out of the frame, below it", height=height)
    return _(
        "{height} high, {share} of the height down from the top",
        height=height,
        share=formats.percent(from_top),
    )


def _who(person: PlannedPerson, show: LengthFormat) -> str:
    """Who is planned for, and how to say it otherwise."""
    said = formats.person(person, show)
    if person.posture_is_assumed:
        return _("{person}: --posture seated if you sit", person=said)
    if person.seat_height_is_assumed:
        return _("{person}: --seat-height says yours", person=said)
    return said


def _picture(plan: Plan) -> str:
    """The shot size, and by how much the frame is larger or too small."""
    framed = plan.framing
    if framed.named is None or framed.looser_by is None:
        return _("tighter than head and shoulders")
    if framed.short_of is not None:
        return _(
            "{shot_size} does NOT fit: the frame is {share} short",
            shot_size=terms.told(framed.named),
            share=formats.percent(-framed.looser_by),
        )
    return _(
        "{shot_size}, {share} to spare",
        shot_size=formats.shot_size(framed.named, plan.person),
        share=formats.percent(framed.looser_by),
    )


def _framing_facts(plan: Plan, show: LengthFormat) -> list[tuple[str, str]]:
    """Who is in the picture, and from where to where it shows them."""
    aim = plan.framing.aim
    top = show.length(aim.top_m)
    if aim.bottom_m < 0:
        frame = _(
            "from the ground to {top}, {below} to spare below the feet",
            top=top,
            below=show.length(-aim.bottom_m),
        )
    else:
        frame = _(
            "from {bottom} to {top} above the ground", bottom=show.length(aim.bottom_m), top=top
        )
    rows = [
        (_("person"), _who(plan.person, show)),
        (_("picture"), _picture(plan)),
        (_("camera height"), f"{show.length(aim.camera_height_m)}, {formats.tilt(aim.tilt_rad)}"),
        (_("frame at the person"), frame),
        (_("eyes"), _eyes(plan, show)),
    ]
    if plan.person.is_seated:
        reach = show.length(plan.person.before_eyes_m)
        nearer = _("about {length} nearer to the camera than the eyes", length=reach)
        rows.append((_("feet"), nearer))
    return rows


def _framing(plan: Plan, show: LengthFormat) -> RenderableType:
    framed = plan.framing
    sizes = grid(_("shot size"), _("fits from"), _("at the mark"))
    for fit in framed.sizes:
        nowhere = math.isinf(fit.fits_from_m)
        sizes.add_row(
            formats.shot_size(fit.name, plan.person),
            _("nowhere") if nowhere else show.least(fit.fits_from_m),
            _("fits") if fit.fits else _("does not fit") if nowhere else _("too near"),
        )
    fields = grid(_("field covered"), _("distance"), _("width x height"))
    for field in plan.fields:
        fields.add_row(
            terms.told(field.at),
            show.length(field.distance_m),
            show.size(field.width_m, field.height_m),
        )
    body = Group(_facts(_framing_facts(plan, show)), Text(""), sizes, Text(""), fields)
    return _section(_("Framing, {orientation}", orientation=terms.told(framed.orientation)), body)


def _softness(plan: Plan, show: LengthFormat) -> RenderableType:
    table = grid(
        _("blur disc"), _("distance"), _("on the sensor"), _("of the width"), _("in pixels")
    )
    for blur in plan.blurs:
        pixels = blur.seen.pixels
        table.add_row(
            terms.told(blur.at),
            show.length(blur.distance_m),
            formats.millimetres(blur.seen.diameter_m),
            formats.percent(blur.seen.share_of_width),
            "-" if pixels is None else formats.number(f"{pixels:.1f}"),
        )
    own = plan.diffraction
    at_limits = formats.millimetres(own.total_at_limits_m)
    rows = [
        (_("diffraction (Airy disc)"), formats.millimetres(own.airy_m)),
        (_("with defocus at the limits"), _("{diameter} (estimate)", diameter=at_limits)),
        (_("softens even the mark beyond"), formats.f_number(own.softens_beyond_f_number)),
    ]
    if own.sharpest_for_zone_f_number is not None:
        best = formats.f_number(own.sharpest_for_zone_f_number)
        rows.append((_("sharpest at these limits"), best))
    return _section(_("Softness"), Group(table, Text(""), _facts(rows)))


def _apertures(plan: Plan, show: LengthFormat) -> RenderableType:
    table = grid(
        _("aperture"), _("light"), _("before"), _("behind"), _("Airy disc"), _("shutter"),
        _("or ISO"),
    )  # fmt: skip
    present = next(c for c in plan.exposure.apertures if c.stops == 0)
    for change in plan.exposure.apertures:
        here = change is present
        light = "0" if here else formats.number(f"{-change.stops:+.2g}")
        table.add_row(
            formats.number(f"f/{change.aperture}"),
            _("{light} stops", light=light),
            show.length(change.in_front_m),
            show.length(change.behind_m),
            formats.millimetres(change.airy_m),
            _restoring(change.shutter, present.shutter, change.stops, "s"),
            _restoring(change.iso, present.iso, change.stops, ""),
            style="bold" if here else None,
        )
    return _section(_("What another aperture gives and costs"), table)


def _restoring(label: str | None, present: str | None, stops: float, unit: str) -> str:
    """The value that restores the exposure; by what to multiply where the present one is not known.

    A dash where the dial has no such value.
    """
    if label is not None:
        return formats.number(f"{label} {unit}".strip())
    if present is not None:
        return "-"
    factor = 2.0**stops
    if factor == 1:
        return _("as it is")
    return formats.number(f"x {factor:.3g}" if factor >= 1 else f"/ {1 / factor:.3g}")


def _exposure(plan: Plan) -> RenderableType:
    part = plan.exposure
    moving = grid(_("movement"), _("longest shutter"), _("on the dial"), _("speed"))
    for limit in plan.motion:
        moving.add_row(
            formats.movement(limit.movement, plan.person),
            formats.shutter_time(limit.longest_s),
            "-" if limit.shutter is None else formats.shutter(limit.shutter),
            formats.number(f"{limit.speed_m_s:g} m/s"),
        )
    if part.light_ev100 is None:
        note = _("Give the light (--ev or --metered) to see shutter times and ISO speeds.")
        return _section(_("Shutter time"), Group(moving, Text(""), Text(note)))
    pairs = grid(_("ISO"), _("shutter"), _("freezes"))
    for pair in part.pairs:
        freezes = ", ".join(formats.movement(name, plan.person) for name in pair.freezes)
        pairs.add_row(pair.iso, formats.shutter(pair.shutter), freezes or "-")
    title = _(
        "Shutter time and ISO at {aperture}, light EV {light}",
        aperture=formats.f_number_set(plan.set_up.lens.f_number),
        light=formats.exposure_value(part.light_ev100),
    )
    return _section(title, Group(moving, Text(""), pairs))


def _walk(plan: Plan) -> str:
    """How long the way to the mark takes, and which self-timer is enough for it."""
    walk = plan.walk
    needed, speed = formats.seconds(walk.needed_s), formats.number(f"{walk.speed_m_s:g} m/s")
    if walk.shortest_timer_s is None:
        return _(
            "{time} at {speed} to be there and still: no usual self-timer is long enough",
            time=needed,
            speed=speed,
        )
    return _(
        "{time} at {speed} to be there and still: self-timer of {delay}",
        time=needed,
        speed=speed,
        delay=formats.delay(walk.shortest_timer_s),
    )


def _on_the_place(plan: Plan, show: LengthFormat) -> RenderableType:
    turn = plan.recomposing
    marks = grid(_("mark on the ground"), _("along the ground"), _("stretched from the camera"))
    for mark in plan.ground_marks:
        marks.add_row(
            terms.told(mark.at), show.length(mark.along_ground_m), show.length(mark.stretched_m)
        )
    recomposed = _(
        "turn of {angle}, plane {shift} behind the eyes ({share} of the room in front of the mark)",
        angle=formats.degrees(turn.angle_rad),
        shift=show.length(turn.shift_m),
        share=formats.percent(turn.share_of_room),
    )
    rows = [(_("focus on the eyes, recompose"), recomposed), (_("way to the mark"), _walk(plan))]
    return _section(_("On the place"), Group(_facts(rows), Text(""), marks))


def print_head(plan: Plan, show: LengthFormat, console: Console) -> None:
    """The set-up, the zone in a sentence, where to be instead if need be, what counts as sharp."""
    console.print(Text(set_up_line(plan, show)))
    if (set_by := set_by_line(plan, show)) is not None:
        console.print(Text(set_by))
    if (short := short_line(plan, show)) is not None:
        console.print(Text(short, style="bold"))
    console.print(Text(headline(plan, show), style="bold"))
    if (narrow := narrow_line(plan, show)) is not None:
        console.print(Text(narrow))
    console.print(Text(criterion_line(plan)))


def print_picture(plan: Plan, show: LengthFormat, console: Console) -> None:
    """Who is in the picture, and how it is framed."""
    console.print(_section(_("Picture"), _facts(_framing_facts(plan, show))))


def print_sections(plan: Plan, show: LengthFormat, console: Console) -> None:
    """Everything in tables."""
    for part in (
        _zone(plan, show),
        _framing(plan, show),
        _softness(plan, show),
        _exposure(plan),
        _apertures(plan, show),
        _on_the_place(plan, show),
    ):
        console.print(part)
