"""A session's report as a PDF of one A4 page, more when there are many attempts.

Set with matplotlib, which the program has anyway: no browser and no further library is needed.
"""

from __future__ import annotations

import io
import textwrap

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from PIL import Image

from assist.base import terms
from assist.base.words import N_, _, _n
from assist.report import charts, formats
from assist.report.summary import SessionSummary
from assist.review.checked import Sharpness

_A4_IN = (8.27, 11.69)
_LEFT, _RIGHT, _BOTTOM = 0.08, 0.93, 0.05
_COLUMNS = (
    (N_("attempt"), 0.0), (N_("time"), 0.09), (N_("eyes, m"), 0.19), (N_("feed said"), 0.32),
    (N_("picture"), 0.46), (N_("to mark, m"), 0.66), (N_("taken by"), 0.78), (N_("trouble"), 0.88),
)  # fmt: skip


def pdf_of(summary: SessionSummary) -> bytes:
    """The whole file."""
    content = io.BytesIO()
    with (
        rc_context({"pdf.fonttype": 42, "font.size": 9.5}),
        PdfPages(
            content,
            metadata={"Title": _("Session: {name}", name=summary.name), "CreationDate": None},
        ) as pdf,
    ):
        page = Figure(figsize=_A4_IN)
        top = _head(page, summary)
        top = _facts(page, summary, top)
        top = _photographs(page, summary, top)
        top = _charts(page, summary, top)
        rest = _table(page, summary, 0, top)
        pdf.savefig(page)
        while rest < len(summary.attempts):
            page = Figure(figsize=_A4_IN)
            rest = _table(page, summary, rest, 0.95)
            pdf.savefig(page)
    return content.getvalue()


def _escaped(words: str) -> str:
    """Text in which a dollar sign starts no formula."""
    return words.replace("\\", "\\\\").replace("$", r"\$")


def _say(
    page: Figure, x: float, y: float, words: str, size: float = 9.5, bold: bool = False,
    soft: bool = False,
) -> None:  # fmt: skip
    page.text(
        x, y, _escaped(words), fontsize=size, weight="bold" if bold else "normal", va="top",
        color=charts.SOFT if soft else charts.INK,
    )  # fmt: skip


def _head(page: Figure, summary: SessionSummary) -> float:
    _say(page, _LEFT, 0.965, textwrap.shorten(summary.name, 52), 20, bold=True)
    y = 0.927
    count = _n("{n} attempt", "{n} attempts", len(summary.attempts))
    began = f"{summary.attempts[0].taken_at:%Y-%m-%d %H:%M}, " if summary.attempts else ""
    _say(page, _LEFT, y, f"{began}{count}", soft=True)
    y -= 0.03
    _say(page, _LEFT, y, _("For next time"), 12, bold=True)
    y -= 0.024
    for line in summary.keep[:6]:
        wrapped = textwrap.wrap(line, 98)
        for index, part in enumerate(wrapped):
            _say(page, _LEFT + 0.015, y, ("\u2013 " if index == 0 else "   ") + part)
            y -= 0.0175
    return y - 0.012


def _facts(page: Figure, summary: SessionSummary, top: float) -> float:
    lows = []
    for x, title, pairs in (
        (_LEFT, _("Set-up"), summary.set_up_facts),
        (0.51, _("Plan"), summary.plan_facts),
    ):
        y = top
        _say(page, x, y, title, 12, bold=True)
        y -= 0.024
        for name, value in pairs:
            names = textwrap.wrap(name, 18)
            values = textwrap.wrap(value, 33) or [""]
            for row in range(max(len(names), len(values))):
                if row < len(names):
                    _say(page, x, y, names[row], soft=True)
                if row < len(values):
                    _say(page, x + 0.165, y, values[row])
                y -= 0.0165
        lows.append(y)
    return min(lows) - 0.012


_PHOTOGRAPHS = 3
_PHOTOGRAPH_HIGH = 0.15


def _photographs(page: Figure, summary: SessionSummary, top: float) -> float:
    """The best ones in a row."""
    shown = summary.photographs[:_PHOTOGRAPHS]
    if not shown:
        return top
    _say(page, _LEFT, top, _("Photographs"), 12, bold=True)
    wide = (_RIGHT - _LEFT - 0.02 * (_PHOTOGRAPHS - 1)) / _PHOTOGRAPHS
    pictures = [Image.open(io.BytesIO(shot.jpeg)) for shot in shown]
    tallest = max(picture.height / picture.width for picture in pictures)
    high = min(_PHOTOGRAPH_HIGH, wide * tallest * _A4_IN[0] / _A4_IN[1])
    low = top - 0.03 - high
    for place, (shot, picture) in enumerate(zip(shown, pictures, strict=True)):
        left = _LEFT + place * (wide + 0.02)
        axes = page.add_axes((left, low, wide, high), anchor="SW")
        axes.axis("off")
        axes.imshow(picture, interpolation="antialiased")
        words = _("attempt {number}", number=shot.attempt.attempt)
        if shot.checked is not None:
            words += f": {terms.told(_short(shot.checked.verdict))}"
        _say(page, left, low - 0.004, words, 8.5)
    return low - 0.04


def _charts(page: Figure, summary: SessionSummary, top: float) -> float:
    width = _RIGHT - _LEFT
    if charts.worth_drawing(sum(a.distance_m is not None for a in summary.attempts)):
        _say(page, _LEFT, top, _("Every attempt"), 12, bold=True)
        height = 0.2
        box = (_LEFT + 0.05, top - 0.05 - height, width - 0.05, height)
        charts.attempts(page.add_axes(box), summary)
        top = box[1] - 0.05
    if charts.worth_drawing(len(summary.rehearsals)):
        _say(page, _LEFT, top, _("Rehearsal"), 12, bold=True)
        height, half = 0.115, (width - 0.16) / 2
        low = top - 0.03 - height
        left = page.add_axes((_LEFT + 0.06, low, half, height))
        right = page.add_axes((_LEFT + 0.16 + half, low, half, height))
        charts.rehearsals(left, right, summary.rehearsals)
        top = low - 0.05
    return top


def _table(page: Figure, summary: SessionSummary, start: int, top: float) -> int:
    """As many lines as fit; the index of the first attempt that did not."""
    if not summary.attempts or top < _BOTTOM + 0.05:
        return start
    step, width = 0.0165, _RIGHT - _LEFT
    for name, x in _COLUMNS:
        _say(page, _LEFT + x * width, top, _(name), 8.5, soft=True)
    y = top - step
    index = start
    while index < len(summary.attempts) and y > _BOTTOM:
        a = summary.attempts[index]
        checked = summary.reviewed.get(a.attempt)
        eyes, spread = formats.plain(a.distance_m), formats.spread(a.standard_deviation_m)
        cells = (
            str(a.attempt),
            f"{a.taken_at:%H:%M:%S}",
            f"{eyes} \u00b1 {spread}" if spread else eyes,
            terms.told(a.verdict),
            "" if checked is None else terms.told(_short(checked.verdict)),
            formats.signed(a.to_mark_m),
            textwrap.shorten(a.trigger, 12),
            textwrap.shorten(a.problem, 18, placeholder=" ..."),
        )
        for (_name, x), words in zip(_COLUMNS, cells, strict=True):
            _say(page, _LEFT + x * width, y, words, 8.5)
        y -= step
        index += 1
    return index


def _short(verdict: str) -> str:
    """A verdict on a picture without what its column has no room for."""
    return "acceptable" if verdict == Sharpness.ACCEPTABLE.value else verdict
