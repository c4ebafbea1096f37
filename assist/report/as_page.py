"""A session's report as a page of HTML, its charts drawn inside it."""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Callable

from markupsafe import Markup
from matplotlib import rc_context
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from assist.base import terms
from assist.base.html import rendered
from assist.base.words import _, _n
from assist.report import charts, formats
from assist.report.formats import metres
from assist.report.summary import SessionSummary
from assist.review import zone_plot
from assist.review.verdict_sign import verdict_word
from assist.review.zone_plot import Place


def page_of(summary: SessionSummary) -> bytes:
    """The whole page."""
    return rendered(
        "assist.report",
        "session.html",
        summary=summary,
        lead=_lead(summary),
        zone=_zone(summary),
        attempts_chart=_attempts_chart(summary),
        rehearsals_chart=_rehearsals_chart(summary),
        inline=_inline,
        verdict_word=verdict_word,
        told=terms.told,
        number=formats.number,
        plain=formats.plain,
        signed=formats.signed,
        spread=formats.spread,
    )


def _lead(summary: SessionSummary) -> str:
    """When it was and how much there is of everything."""
    began = (
        f"{summary.attempts[0].taken_at:%Y-%m-%d %H:%M}"
        if summary.attempts
        else _("no attempts yet")
    )
    counts = [_n("{n} attempt", "{n} attempts", len(summary.attempts))]
    if summary.rehearsals:
        counts.append(_("{count} rehearsed", count=len(summary.rehearsals)))
    if summary.pictures:
        counts.append(_n("{n} picture checked", "{n} pictures checked", summary.pictures))
    parts = [began, ", ".join(counts)]
    prints = {p.print_size for p in summary.reviewed.values() if p.print_size}
    if len(prints) == 1:
        parts.append(_("acceptable means a print {size}", size=terms.print_size(prints.pop())))
    return "; ".join(parts)


def _zone(summary: SessionSummary) -> Markup:
    """The focus zone along the axis, with the place of the best attempt."""
    marks = []
    best = summary.best
    if best is not None and best.distance_m is not None:
        label = _("attempt {number}, the best", number=best.attempt)
        marks.append(Place(label, best.distance_m, best.standard_deviation_m))
    zone = summary.zone
    return zone_plot.draw(
        zone.near_from_sensor_m, zone.far_from_sensor_m, zone.best_from_sensor_m, marks
    )


def _inline(jpeg: bytes) -> str:
    """A photograph inside the page: a report that is sent on has them with it."""
    return f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}"


def _attempts_chart(summary: SessionSummary) -> str:
    if not charts.worth_drawing(sum(a.distance_m is not None for a in summary.attempts)):
        return ""
    return _svg(lambda figure: charts.attempts(figure.subplots(), summary), (10, 3.9))


def _rehearsals_chart(summary: SessionSummary) -> str:
    if not charts.worth_drawing(len(summary.rehearsals)):
        return ""

    def draw(figure: Figure) -> None:
        left, right = figure.subplots(1, 2)
        charts.rehearsals(left, right, summary.rehearsals)

    return _svg(draw, (10, 3.0))


def _svg(draw: Callable[[Figure], None], size: tuple[float, float]) -> str:
    """A chart as the data of an image, base64: no chart's ids can clash with another's."""
    with rc_context({"svg.fonttype": "path", "svg.hashsalt": "chart", "font.size": 10}):
        figure = Figure(figsize=size, layout="constrained")
        FigureCanvasSVG(figure)
        draw(figure)
        content = io.BytesIO()
        figure.savefig(content, format="svg", metadata={"Date": None})
    return base64.b64encode(content.getvalue()).decode()


def in_words(summary: SessionSummary) -> str:
    """The zone in one line, for the terminal."""
    zone = summary.zone
    far = _("infinity") if math.isinf(zone.far_m) else metres(zone.far_from_sensor_m)
    return _(
        "{name}: sharp from {near} to {far}",
        name=summary.name,
        near=metres(zone.near_from_sensor_m),
        far=far,
    )
