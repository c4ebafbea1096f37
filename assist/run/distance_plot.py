"""The picture of a run: distance against time, with the zone, the uncertainty and the truth."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from assist.base.files import write_whole
from assist.base.words import _, current
from assist.guidance.assistant import Moment
from assist.guidance.verdict import NINETY_PERCENT, Verdict
from assist.run.true_distances import Truth
from assist.session.told import verdict_told
from assist.setup.set_up import SetUp

# Hatching and words tell the verdicts apart without colour.
_LOOK = {
    Verdict.TOO_NEAR: ("#f2b84b", "\\\\\\\\"),
    Verdict.IN_FOCUS: ("#6fd3a3", ""),
    Verdict.TOO_FAR: ("#8fb8ff", "////"),
    Verdict.NOT_SURE: ("#d7d7d7", "...."),
    Verdict.NO_ONE: ("#ffffff", "xx"),
}


def distance_over_time(
    path: Path,
    moments: list[Moment],
    set_up: SetUp,
    truth: Truth | None = None,
    fired_s: list[float] | None = None,
) -> None:
    """Write the plot as PNG. Distances are from the sensor plane."""
    zone = set_up.focus_zone
    figure = Figure(figsize=(10, 5.6), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    axes, band = figure.subplots(2, 1, sharex=True, height_ratios=[9, 1])
    time_s = np.array([m.frame.time_s for m in moments])
    known = [m.assessment.distance for m in moments]
    eyes_m = np.array([np.nan if d is None else zone.from_sensor_m(d.eyes_m) for d in known])
    spread_m = np.array([np.nan if d is None else NINETY_PERCENT * d.sd_m for d in known])
    near_m, far_m = zone.near_from_sensor_m, zone.far_from_sensor_m
    top_m = float(np.nanmax(eyes_m + spread_m, initial=set_up.lens.focus_distance_m)) * 1.05
    top_m = max(top_m, far_m * 1.02 if np.isfinite(far_m) else top_m)
    shown_far_m = min(far_m, top_m)
    axes.axhspan(near_m, shown_far_m, facecolor="#dff3e8", edgecolor="#8ccfae", hatch="//", lw=0)
    axes.axhline(
        set_up.lens.focus_distance_m, color="#2c7a55", lw=1, ls=":", label=_("sharpest plane")
    )
    axes.fill_between(
        time_s, eyes_m - spread_m, eyes_m + spread_m, color="#4a5a8a", alpha=0.28, lw=0,
        label=_("90 % interval"),
    )  # fmt: skip
    axes.plot(time_s, eyes_m, color="#1f2a55", lw=1.8, label=_("measured, eyes"))
    if truth is not None:
        axes.plot(
            truth.time_s,
            truth.eyes_m + zone.sensor_offset_m,
            color="black",
            lw=1.3,
            ls="--",
            label=_("truth, eyes"),
        )
    for index, moment_s in enumerate(fired_s or []):
        axes.axvline(moment_s, color="#b03030", lw=1.4, ls="-.")
        axes.annotate(
            _("taken") if index == 0 else "", (moment_s, top_m), xytext=(4, -12),
            textcoords="offset points", color="#b03030",
        )  # fmt: skip
    axes.set_ylim(0, top_m)
    axes.set_ylabel(_("distance from the sensor plane, m"))
    handles, _labels = axes.get_legend_handles_labels()
    handles.append(
        Patch(facecolor="#dff3e8", edgecolor="#8ccfae", hatch="//", label=_("focus zone"))
    )
    axes.legend(handles=handles, loc="lower right", ncols=2, framealpha=0.95)
    axes.set_title(
        _title(set_up, near_m, far_m),
        fontsize=11,
    )
    _draw_verdicts(band, moments)
    band.set_xlabel(_("time, s"))
    content = io.BytesIO()
    figure.savefig(content, format="png")
    write_whole(path, content.getvalue())


def _draw_verdicts(band: object, moments: list[Moment]) -> None:
    """A strip under the plot with the verdict of every moment, each with its own hatching."""
    from matplotlib.axes import Axes  # noqa: PLC0415

    assert isinstance(band, Axes)
    start = 0
    for index in range(1, len(moments) + 1):
        verdict = moments[start].assessment.verdict
        if index < len(moments) and moments[index].assessment.verdict is verdict:
            continue
        begin_s = moments[start].frame.time_s
        end_s = moments[min(index, len(moments) - 1)].frame.time_s
        colour, hatch = _LOOK[verdict]
        band.axvspan(begin_s, end_s, facecolor=colour, edgecolor="#555555", hatch=hatch, lw=0.4)
        if end_s - begin_s > 0.06 * (moments[-1].frame.time_s or 1.0):
            band.text(
                (begin_s + end_s) / 2, 0.5, verdict_told(verdict.value),
                ha="center", va="center", fontsize=8,
                transform=band.get_xaxis_transform(),
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2},
            )  # fmt: skip
        start = index
    band.set_yticks([])


def _title(set_up: SetUp, near_m: float, far_m: float) -> str:
    lens, say = set_up.lens, current()
    return _(
        "{focal_length} mm, f/{f_number}, focused at {focus} m: sharp from {near} to {far}",
        focal_length=say.decimal(f"{lens.focal_length_mm:g}"),
        f_number=say.decimal(f"{lens.f_number:g}"),
        focus=say.decimal(f"{lens.focus_distance_m:g}"),
        near=say.figure(near_m, 2),
        far=f"{say.figure(far_m, 2)} m" if math.isfinite(far_m) else _("infinity"),
    )
