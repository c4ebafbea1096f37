"""The plan on one page to print: a single HTML file that needs nothing else."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from assist.base.files import write_whole
from assist.base.html import plain_page, text
from assist.plan import figure_files, formats
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan
from assist.plan.procedure import CAUTIONS, steps
from assist.plan.side_view import drawing_only
from assist.plan.tables import criterion_line, headline, set_by_line, set_up_line, short_line

_CSS = """
@page { margin: 10mm 13mm; }
* { box-sizing: border-box; }
body { font: 9.2pt/1.3 "Helvetica Neue", Helvetica, Arial, "Liberation Sans", sans-serif;
  color: #22262e; margin: 0 auto; max-width: 184mm; }
h1 { font-size: 16pt; margin: 0 0 1mm; }
h2 { font-size: 10.5pt; margin: 0 0 1mm; padding-bottom: .6mm; border-bottom: .35mm solid #22262e; }
p { margin: 0 0 1mm; }
.key { font-size: 12pt; font-weight: bold; margin: 0 0 1mm; }
.small { font-size: 8pt; color: #4d5563; }
figure { margin: 1mm 0 2mm; }
figure svg { max-width: 100%; height: auto; max-height: 52mm; display: block; margin: 0 auto; }
.columns { display: grid; grid-template-columns: 1fr 1fr; gap: 3mm 7mm; margin-bottom: 2mm; }
table { border-collapse: collapse; width: 100%; }
td, th { padding: .4mm 0; border-bottom: .15mm solid #c9ced8; vertical-align: top;
  text-align: left; }
th { font-weight: normal; color: #4d5563; }
td + td, th + th { text-align: right; font-variant-numeric: tabular-nums; padding-left: 4mm; }
ol { margin: 0; padding: 0; list-style: none; counter-reset: step; }
ol li { counter-increment: step; position: relative; padding: 0 0 .8mm 11mm; break-inside: avoid; }
ol li::before { content: counter(step); position: absolute; left: 5mm; font-weight: bold; }
ol li::after { content: ""; position: absolute; left: 0; top: .9mm; width: 3mm; height: 3mm;
  border: .3mm solid #22262e; border-radius: .5mm; }
ul { margin: 0; padding-left: 5mm; }
.care { border: .5mm solid #22262e; padding: 2mm 3mm; margin-top: 2mm; break-inside: avoid; }
.care h2 { border: 0; margin: 0; padding: 0; }
@media screen { body { padding: 8mm; } }
"""


def write(plan: Plan, show: LengthFormat, path: Path) -> None:
    """Write the page."""
    write_whole(path, page(plan, show))


def page(plan: Plan, show: LengthFormat) -> bytes:
    """The page. Everything that comes from a user is made safe for it."""
    name = plan.set_up.name or "Plan for a self-portrait"
    body = f"""<h1>{text(name)}</h1>
<p>{text(set_up_line(plan, show))}</p>
{_head(plan, show)}
<p class="key">{text(headline(plan, show))}</p>
<p class="small">{text(criterion_line(plan))}</p>
<figure>{_side_view(plan, show)}</figure>
<div class="columns">
<section><h2>Focus and marks</h2>
{_table(_marks(plan, show), _MARKS)}
{_table(_focus_rows(plan, show))}</section>
<section><h2>Picture and light</h2>{_table(_picture_rows(plan, show))}</section>
</div>
<section><h2>Step by step</h2>
<ol>
{_steps(plan, show)}
</ol></section>
<section class="care"><h2>Take care</h2>
<ul>
{"".join(f"<li>{text(caution)}</li>" for caution in CAUTIONS)}
</ul></section>"""
    return plain_page(name, body, _CSS)


def _head(plan: Plan, show: LengthFormat) -> str:
    """Where the focus distance comes from, and where to be instead: a line for each, if any."""
    set_by, short = set_by_line(plan, show), short_line(plan, show)
    lines = [] if set_by is None else [f"<p>{text(set_by)}</p>"]
    if short is not None:
        lines.append(f"<p><b>{text(short)}</b></p>")
    return "".join(lines)


def _side_view(plan: Plan, show: LengthFormat) -> str:
    """The drawing as inline SVG, without the prologue that only a file of its own may have."""
    # Drawn at the size that it has on the page, so that its words print at their own size.
    drawing = partial(drawing_only, most_inches=(7.2, 60 / 25.4))
    file = figure_files.rendered(drawing, plan, show, "svg").decode()
    svg = file[file.index("<svg") :]
    alternative = text(f"Side view. {headline(plan, show)}")
    return re.sub(r"^<svg", f'<svg role="img" aria-label="{alternative}"', svg, count=1)


def _table(rows: Sequence[Sequence[str]], headings: Sequence[str] = ()) -> str:
    head = "<tr>" + "".join(f"<th>{text(x)}</th>" for x in headings) + "</tr>" if headings else ""
    body = "".join("<tr>" + "".join(f"<td>{text(x)}</td>" for x in row) + "</tr>" for row in rows)
    return f"<table>{head}{body}</table>"


_MARKS = ("to tape", "along the ground", "stretched from the camera")


def _marks(plan: Plan, show: LengthFormat) -> list[tuple[str, ...]]:
    return [
        (mark.at, show.length(mark.along_ground_m), show.length(mark.stretched_m))
        for mark in plan.ground_marks
    ]


def _focus_rows(plan: Plan, show: LengthFormat) -> list[tuple[str, str]]:
    zone = plan.zone
    return [
        ("room before / behind", f"{show.length(zone.in_front_m)} / {show.length(zone.behind_m)}"),
        ("hyperfocal distance", show.length(plan.hyperfocal_m)),
        ("diffraction softens beyond", formats.f_number(plan.diffraction.softens_beyond_f_number)),
    ]


def _picture_rows(plan: Plan, show: LengthFormat) -> list[tuple[str, str]]:
    framed, aim, given = plan.framing, plan.framing.aim, plan.set_up.exposure
    mark = next(field for field in plan.fields if field.at == "mark")
    rows = [
        ("framing", f"{framed.named or 'very tight'}, {framed.orientation}"),
        ("person", formats.person(plan.person, show)),
        ("camera height", f"{show.length(aim.camera_height_m)}, {formats.tilt(aim.tilt_rad)}"),
        ("field covered at the mark", show.size(mark.width_m, mark.height_m)),
    ]
    if given.shutter_s is not None and given.iso is not None:
        rows.append(("exposure", f"{formats.dial_time(given.shutter_s)}, ISO {given.iso:g}"))
    if plan.exposure.light_ev100 is not None:
        rows.append(("light", f"EV {plan.exposure.light_ev100:.3g} at ISO 100"))
    rows.append(
        (
            "longest shutter "
            + " / ".join(formats.movement(limit.movement, plan.person) for limit in plan.motion),
            " / ".join(formats.shutter_time(limit.longest_s) for limit in plan.motion),
        )
    )
    return rows


def _steps(plan: Plan, show: LengthFormat) -> str:
    return "\n".join(
        f"<li><b>{text(step.title)}.</b> {text(step.text)}</li>" for step in steps(plan, show)
    )
