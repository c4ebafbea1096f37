"""Charts of a session, readable without colour: marks differ in shape, the zone is hatched."""

from __future__ import annotations

import math
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from assist.base import terms, ticks
from assist.base.words import N_, _
from assist.guidance.verdict import NINETY_PERCENT, Verdict
from assist.report.summary import SessionSummary
from assist.review.checked import Sharpness
from assist.session.rehearsal import RunScore
from optics.focus_zone import FocusZone

INK, SOFT, ZONE = "#1b1e23", "#5b6470", "#6d9c86"
_MOST_SHOWN = 60
_MARKS: dict[str, dict[str, Any]] = {
    Verdict.IN_FOCUS.value: {"marker": "o", "markerfacecolor": INK},
    Verdict.TOO_NEAR.value: {"marker": "v", "markerfacecolor": "white"},
    Verdict.TOO_FAR.value: {"marker": "^", "markerfacecolor": "white"},
    Verdict.NOT_SURE.value: {"marker": "D", "markerfacecolor": "white"},
}
_SHORT = {
    Sharpness.SHARP.value: N_("sharp"),
    Sharpness.ACCEPTABLE.value: N_("accept."),
    Sharpness.SOFT.value: N_("soft"),
    Sharpness.NOT_SURE.value: "?",
}


def worth_drawing(count: int) -> bool:
    """Whether a chart of so many attempts or runs shows more than a line of the table."""
    return count > 1


def draw_zone(axes: Axes, zone: FocusZone, top_m: float) -> None:
    """The zone as a hatched band, its sharpest place as a dotted line."""
    axes.axhspan(
        zone.near_from_sensor_m,
        min(zone.far_from_sensor_m, top_m),
        facecolor="#eef5f1",
        edgecolor=ZONE,
        hatch="//",
        lw=0.8,
    )
    axes.axhline(zone.best_from_sensor_m, color=INK, lw=1, ls=":")


def attempts(axes: Axes, summary: SessionSummary) -> None:
    """Distance of the eyes at every attempt, with 90 % intervals and the picture's verdict."""
    shown = [a for a in summary.attempts if a.distance_m is not None][-_MOST_SHOWN:]
    known = [a.distance_m for a in shown if a.distance_m is not None]
    spread = [NINETY_PERCENT * (a.standard_deviation_m or 0.0) for a in shown]
    tops = [m + s for m, s in zip(known, spread, strict=True)]
    lows = [m - s for m, s in zip(known, spread, strict=True)]
    low_m = max(0.0, min([summary.zone.near_from_sensor_m, *lows]))
    far_m = (
        summary.zone.far_from_sensor_m
        if math.isfinite(summary.zone.far_from_sensor_m)
        else summary.zone.best_from_sensor_m * 1.5
    )
    top_m = max([far_m, *tops])
    pad = 0.12 * (top_m - low_m)
    axes.set_ylim(max(0.0, low_m - pad), top_m + 1.6 * pad)
    draw_zone(axes, summary.zone, top_m + 1.6 * pad)
    for place, (attempt, distance_m, s) in enumerate(zip(shown, known, spread, strict=True)):
        look = _MARKS.get(attempt.verdict, _MARKS[Verdict.NOT_SURE.value])
        axes.errorbar(
            place, distance_m, yerr=s, color=INK, capsize=4, lw=1.3, ms=8, mew=1.4, **look
        )
        checked = summary.reviewed.get(attempt.attempt)
        if checked is not None and len(shown) <= 25:
            axes.annotate(
                _(_SHORT[checked.verdict]),
                (place, min(distance_m + s, top_m + pad)),
                xytext=(0, 6),
                textcoords="offset points",
                ha="center",
                fontsize=8,
                color=INK,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
            )
    step = max(1, len(shown) // 20)
    axes.set_xticks(range(0, len(shown), step), [str(a.attempt) for a in shown[::step]])
    axes.set_xlim(-0.7, max(len(shown) - 0.3, 1.7))
    axes.set_xlabel(_("attempt"))
    axes.set_ylabel(_("eyes, m from the sensor plane"))
    handles: list[Any] = [
        Line2D([], [], ls="", color=INK, ms=7, mew=1.4, label=terms.told(verdict), **look)
        for verdict, look in _MARKS.items()
        if any(a.verdict == verdict for a in shown)
    ]
    handles.append(Patch(facecolor="#eef5f1", edgecolor=ZONE, hatch="//", label=_("focus zone")))
    axes.legend(
        handles=handles, loc="upper center", bbox_to_anchor=(0.5, 1.14), ncols=5, frameon=False,
        fontsize=8.5, handletextpad=0.5, columnspacing=1.3,
    )  # fmt: skip
    tidy(axes)


def rehearsals(places: Axes, times: Axes, scores: list[RunScore]) -> None:
    """Progress over the runs: distance to the mark, and time left at zero."""
    shown = scores[-_MOST_SHOWN:]
    runs = [s.run for s in shown]
    off = [math.nan if s.to_mark_m is None else s.to_mark_m for s in shown]
    places.axhline(0, color=INK, lw=1, ls=":")
    places.plot(runs, off, color=INK, lw=1.2, marker="o", ms=6, mfc="white", mew=1.4)
    places.set_ylabel(_("m behind the mark\n(- in front), at zero"))
    spare = [math.nan if s.spare_s is None else s.spare_s for s in shown]
    times.axhline(0, color=INK, lw=1, ls=":")
    times.bar(
        runs, [0 if math.isnan(v) else v for v in spare], width=0.55, facecolor="white",
        edgecolor=INK, hatch="...", lw=1.2,
    )  # fmt: skip
    for run, value in zip(runs, spare, strict=True):
        if math.isnan(value):
            times.annotate(_("never"), (run, 0), ha="center", va="bottom", fontsize=8)
    times.set_ylabel(_("s to spare\nat zero"))
    for axes in (places, times):
        axes.set_xlabel(_("run"))
        axes.set_xticks(runs[:: max(1, len(runs) // 12)])
        axes.set_xlim(runs[0] - 0.7, runs[-1] + 0.7)
        tidy(axes)


def tidy(axes: Axes) -> None:
    """Fewer lines."""
    ticks.in_language(axes.yaxis)
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(axis="y", color="#dfe2e6", lw=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=8.5)
