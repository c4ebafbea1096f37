"""The plan on one page to print: a single HTML file that needs nothing else."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from markupsafe import Markup, escape

from assist.base import terms
from assist.base.files import write_whole
from assist.base.html import rendered
from assist.base.words import _, current
from assist.guidance.hazards import cautions
from assist.plan import figure_files, formats
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan
from assist.plan.procedure import steps
from assist.plan.sentences import (
    criterion_line,
    headline,
    narrow_line,
    set_by_line,
    set_up_line,
    short_line,
)
from assist.plan.side_view import drawing_only


def write(plan: Plan, show: LengthFormat, path: Path) -> None:
    """Write the page."""
    write_whole(path, page(plan, show))


def page(plan: Plan, show: LengthFormat) -> bytes:
    """The page. Everything that comes from a user is made safe for it."""
    return rendered(
        "assist.plan",
        "sheet.html",
        title=plan.set_up.name or _("Plan for a self-portrait"),
        set_up=set_up_line(plan, show),
        set_by=set_by_line(plan, show),
        short=short_line(plan, show),
        headline=headline(plan, show),
        narrow=narrow_line(plan, show),
        criterion=criterion_line(plan),
        side_view=_side_view(plan, show),
        marks=_marks(plan, show),
        focus=_focus_rows(plan, show),
        picture=_picture_rows(plan, show),
        steps=steps(plan, show),
        cautions=cautions(plan.set_up, current()),
    )


def _side_view(plan: Plan, show: LengthFormat) -> Markup:
    """The drawing as inline SVG, without the prologue that only a file of its own may have."""
    # Drawn at the size that it has on the page, so that its words print at their own size.
    drawing = partial(drawing_only, most_inches=(7.2, 60 / 25.4))
    file = figure_files.rendered(drawing, plan, show, "svg").decode()
    alternative = escape(_("Side view. {zone}", zone=headline(plan, show)))
    rest = Markup(file[file.index("<svg") + len("<svg") :])
    return Markup('<svg role="img" aria-label="{}"').format(alternative) + rest


def _marks(plan: Plan, show: LengthFormat) -> list[tuple[str, ...]]:
    return [
        (terms.told(mark.at), show.length(mark.along_ground_m), show.length(mark.stretched_m))
        for mark in plan.ground_marks
    ]


def _focus_rows(plan: Plan, show: LengthFormat) -> list[tuple[str, str]]:
    zone = plan.zone
    room = f"{show.length(zone.in_front_m)} / {show.length(zone.behind_m)}"
    softens = formats.f_number(plan.diffraction.softens_beyond_f_number)
    return [
        (_("room before / behind"), room),
        (_("hyperfocal distance"), show.length(plan.hyperfocal_m)),
        (_("diffraction softens beyond"), softens),
    ]


def _picture_rows(plan: Plan, show: LengthFormat) -> list[tuple[str, str]]:
    framed, aim, given = plan.framing, plan.framing.aim, plan.set_up.exposure
    mark = next(field for field in plan.fields if field.at == "mark")
    shot_size = _("very tight") if framed.named is None else terms.told(framed.named)
    rows = [
        (_("framing"), f"{shot_size}, {terms.told(framed.orientation)}"),
        (_("person"), formats.person(plan.person, show)),
        (_("camera height"), f"{show.length(aim.camera_height_m)}, {formats.tilt(aim.tilt_rad)}"),
        (_("field covered at the mark"), show.size(mark.width_m, mark.height_m)),
    ]
    if given.shutter_s is not None and given.iso is not None:
        rows.append((_("exposure"), f"{formats.dial_time(given.shutter_s)}, ISO {given.iso:g}"))
    if plan.exposure.light_ev100 is not None:
        light = formats.exposure_value(plan.exposure.light_ev100)
        rows.append((_("light"), _("EV {light} at ISO 100", light=light)))
    movements = " / ".join(formats.movement(x.movement, plan.person) for x in plan.motion)
    rows.append(
        (
            _("longest shutter {movements}", movements=movements),
            " / ".join(formats.shutter_time(x.longest_s) for x in plan.motion),
        )
    )
    return rows
