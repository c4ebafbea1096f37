"""A session's report as a page of HTML, its charts drawn inside it."""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Callable

from matplotlib import rc_context
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from assist.base import html as page
from assist.base.html import facts, text
from assist.guidance.verdict import NINETY_PERCENT
from assist.report import charts
from assist.report.summary import SessionSummary, metres
from assist.review import zone_plot
from assist.review.words import verdict_word
from assist.review.zone_plot import Place

_STYLE = """
.two { display: grid; grid-template-columns: repeat(2, minmax(0, 1fr)); gap: 18px; }
.keep li { margin: 4px 0; font-size: 17px; }
.keep ul { margin: 4px 0; padding-left: 22px; }
.chart { overflow-x: auto; }
.chart img { width: 100%; min-width: 620px; }
td { white-space: nowrap; }
td.words { white-space: normal; min-width: 9em; }
@media (max-width: 800px) { .two { grid-template-columns: minmax(0, 1fr); } }
"""


def page_of(summary: SessionSummary) -> bytes:
    """The whole page."""
    began = (
        f"{summary.attempts[0].taken_at:%Y-%m-%d %H:%M}" if summary.attempts else "no attempts yet"
    )
    count = len(summary.attempts)
    lead = f"{began}; {count} attempt{'' if count == 1 else 's'}"
    if summary.rehearsals:
        lead += f", {len(summary.rehearsals)} rehearsed"
    if summary.pictures:
        lead += f", {summary.pictures} picture{'s' if summary.pictures != 1 else ''} checked"
    prints = {p.print_size for p in summary.reviewed.values() if p.print_size}
    if len(prints) == 1:
        lead += f"; acceptable means a print {prints.pop()}"
    keep = "".join(f"<li>{text(line)}</li>" for line in summary.keep)
    parts = [
        f'<h1>{text(summary.name)}</h1><p class="lead">{text(lead)}</p>',
        f'<section class="card keep"><h3>For next time</h3><ul>{keep}</ul></section>',
        '<div class="two">',
        f'<section class="card"><h3>Set-up</h3>{_facts(summary.set_up_facts)}</section>',
        f'<section class="card"><h3>Plan</h3>{_facts(summary.plan_facts)}</section></div>',
        f'<section class="card"><h3>The zone</h3>{_zone(summary)}</section>',
    ]
    if summary.attempts:
        parts.append(f'<h2>Every attempt</h2><section class="card">{_chart_of(summary)}')
        parts.append(f"{_table(summary)}</section>")
    if summary.rehearsals:
        picture = _svg(lambda figure: _draw_rehearsals(figure, summary), (10, 3.0))
        parts.append(
            f'<h2>Rehearsal</h2><section class="card chart">{picture}{_runs(summary)}</section>'
        )
    return page.page(f"Session: {summary.name}", "".join(parts), _STYLE)


def _facts(pairs: list[tuple[str, str]]) -> str:
    return facts([(name, text(value)) for name, value in pairs])


def _zone(summary: SessionSummary) -> str:
    marks = []
    best = summary.best
    if best is not None and best.distance_m is not None:
        marks.append(
            Place(f"attempt {best.attempt}, the best", best.distance_m, best.standard_deviation_m)
        )
    zone = summary.zone
    return zone_plot.draw(
        zone.near_from_sensor_m, zone.far_from_sensor_m, zone.best_from_sensor_m, marks
    )


def _chart_of(summary: SessionSummary) -> str:
    if not any(a.distance_m is not None for a in summary.attempts):
        return ""
    picture = _svg(lambda figure: charts.attempts(figure.subplots(), summary), (10, 3.9))
    return f'<div class="chart">{picture}</div>'


def _draw_rehearsals(figure: Figure, summary: SessionSummary) -> None:
    left, right = figure.subplots(1, 2)
    charts.rehearsals(left, right, summary.rehearsals)


def _svg(draw: Callable[[Figure], None], size: tuple[float, float]) -> str:
    """A chart as an image with its data inside: no chart's ids can clash with another's."""
    with rc_context({"svg.fonttype": "path", "svg.hashsalt": "chart", "font.size": 10}):
        figure = Figure(figsize=size, layout="constrained")
        FigureCanvasSVG(figure)
        draw(figure)
        content = io.BytesIO()
        figure.savefig(content, format="svg", metadata={"Date": None})
    data = base64.b64encode(content.getvalue()).decode()
    what = "chart; its numbers are in the table below"
    return f'<img alt="{what}" src="data:image/svg+xml;base64,{data}">'


def _table(summary: SessionSummary) -> str:
    head = "".join(
        f'<th class="number">{name}</th>' if number else f"<th>{name}</th>"
        for name, number in (
            ("attempt", True), ("time", False), ("eyes, m", True), ("\u00b1 90 %", True),
            ("feed said", False), ("picture", False), ("to the mark, m", True), ("framing", False),
            ("taken by", False), ("trouble", False),
        )
    )  # fmt: skip
    rows = []
    for a in summary.attempts:
        checked = summary.reviewed.get(a.attempt)
        sd = a.standard_deviation_m
        cells = [
            (str(a.attempt), True),
            (text(f"{a.taken_at:%H:%M:%S}"), False),
            ("" if a.distance_m is None else f"{a.distance_m:.2f}", True),
            ("" if sd is None else f"{NINETY_PERCENT * sd:.2f}", True),
            (text(a.verdict), False),
            ("" if checked is None else verdict_word(checked.verdict), False),
            ("" if a.to_mark_m is None else f"{a.to_mark_m:+.2f}", True),
            (text(a.framing), False),
            (text(a.trigger), False),
            (text(a.problem), False),
        ]
        rows.append(
            "<tr>"
            + "".join(
                f'<td class="number">{value}</td>' if number else f"<td>{value}</td>"
                for value, number in cells[:-1]
            )
            + f'<td class="words">{cells[-1][0]}</td></tr>'
        )
    return (
        f'<div class="scroll"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _runs(summary: SessionSummary) -> str:
    rows = "".join(
        f'<tr><td class="number">{s.run}</td><td class="number">{s.countdown_s:g}</td>'
        f'<td class="number">{"never" if s.reached_s is None else f"{s.reached_s:.1f}"}</td>'
        f'<td class="number">{"" if s.to_mark_m is None else f"{s.to_mark_m:+.2f}"}</td>'
        f'<td class="number">{"" if s.sway_m is None else f"{100 * s.sway_m:.0f}"}</td>'
        f"<td>{text(s.verdict)}</td></tr>"
        for s in summary.rehearsals
    )
    return (
        '<div class="scroll"><table><thead><tr><th class="number">run</th>'
        '<th class="number">timer, s</th>'
        '<th class="number">at the mark after, s</th><th class="number">to the mark, m</th>'
        '<th class="number">sway, cm</th><th>at zero</th></tr></thead>'
        f"<tbody>{rows}</tbody></table></div>"
    )


def in_words(summary: SessionSummary) -> str:
    """The zone in one line, for the terminal."""
    far = (
        "infinity"
        if math.isinf(summary.zone.far_from_sensor_m)
        else metres(summary.zone.far_from_sensor_m)
    )
    return f"{summary.name}: sharp from {metres(summary.zone.near_from_sensor_m)} to {far}"
