"""Blur against distance: where the zone's limits come from, and how soft the rest is."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.figure import Figure

from assist.base import terms, ticks
from assist.base.words import _
from assist.plan import formats
from assist.plan.figure_files import INK, MARK, ZONE, ZONE_EDGE
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan
from assist.plan.sentences import headline, set_up_line
from optics import diffraction, framing, lens
from optics.exposure import APERTURES
from optics.units import METRES_PER_FOOT

_POINTS = 600


def curves(plan: Plan, show: LengthFormat) -> Figure:
    """Defocus at this aperture and a stop to either side, with diffraction, and the criterion."""
    set_up, zone = plan.set_up, plan.zone
    f, n, s = set_up.focal_length_m, set_up.lens.f_number, set_up.focus_lens_distance_m
    left, right = _range_m(plan)
    z = np.linspace(zone.from_lens_m(left), zone.from_lens_m(right), _POINTS)
    unit = METRES_PER_FOOT if show.units == "feet" else 1.0
    x = (z + zone.sensor_offset_m) / unit
    width_m = framing.frame_sides_m(set_up.sensor, set_up.camera.orientation)[0]

    figure = Figure(figsize=(11, 5.2), layout="constrained")
    axes = figure.add_subplot()
    axes.axvspan(
        zone.near_from_sensor_m / unit,
        min(zone.far_from_sensor_m, right) / unit,
        fc=ZONE,
        ec="#9fcdb4",
        hatch="..",
        lw=0,
    )
    for stops, style, colour in ((-1, (0, (6, 2)), "#8f98ad"), (1, (0, (1.5, 1.5)), "#8f98ad")):
        other = n * 2 ** (stops / 2)
        blur = np.asarray(lens.blur_diameter_m(f, other, s, z)) * 1e3
        aperture = formats.number(f"f/{APERTURES.nearest(other).label}")
        name = (
            _("{aperture}, a stop wider", aperture=aperture)
            if stops < 0
            else _("{aperture}, a stop narrower", aperture=aperture)
        )
        axes.plot(x, blur, color=colour, lw=1.3, ls=style, label=name)
    blur = np.asarray(lens.blur_diameter_m(f, n, s, z))
    own = formats.f_number_set(n)
    airy = diffraction.airy_diameter_m(n, lens.magnification(f, s))
    total = np.asarray(diffraction.total_blur_m(blur, airy))
    axes.plot(x, blur * 1e3, color=INK, lw=2.0, label=_("{aperture}, defocus", aperture=own))
    axes.plot(
        x,
        total * 1e3,
        color="#7a4fb5",
        lw=1.2,
        label=_("{aperture} with diffraction (estimate)", aperture=own),
    )
    c = plan.set_up.criterion.circle_of_confusion_m
    axes.axhline(c * 1e3, color=ZONE_EDGE, lw=1.2)
    top = _top_mm(blur, c)
    limit = _(
        "sharp: {diameter} ({criterion})",
        diameter=formats.millimetres(c),
        criterion=terms.criterion(plan.set_up.criterion.basis),
    )
    axes.text(
        right / unit, c * 1e3 + 0.01 * top, limit + " ",
        ha="right", va="bottom", color=ZONE_EDGE,
    )  # fmt: skip
    axes.axvline(zone.best_from_sensor_m / unit, color=MARK, lw=1.2, ls=(0, (5, 3)))
    axes.text(
        zone.best_from_sensor_m / unit,
        top,
        " " + _("mark {distance}", distance=show.length(zone.best_from_sensor_m)),
        color=MARK,
        va="top",
        bbox={"fc": ZONE, "ec": "none", "pad": 1.5},
    )
    background = set_up.place.background_distance_m
    if background is not None and background <= right:
        at = float(lens.blur_diameter_m(f, n, s, zone.from_lens_m(background))) * 1e3
        axes.plot([background / unit], [at], "s", color=INK, ms=6)
        axes.annotate(
            _("background, {blur}", blur=formats.millimetres(at / 1e3)),
            (background / unit, at), (-8, 8),
            textcoords="offset points", ha="right",
        )  # fmt: skip
    axes.set_xlim(left / unit, right / unit)
    axes.set_ylim(0, top)
    axes.set_xlabel(
        _("distance from the sensor plane, ft")
        if show.units == "feet"
        else _("distance from the sensor plane, m")
    )
    axes.set_ylabel(_("diameter of the blur disc on the sensor, mm"))
    percent_per_mm = 0.1 / width_m
    share = axes.secondary_yaxis(
        "right",
        functions=(
            lambda mm: np.multiply(mm, percent_per_mm),
            lambda part: np.divide(part, percent_per_mm),
        ),
    )
    share.set_ylabel(_("% of the picture's width"))
    ticks.in_language(axes.xaxis, axes.yaxis, share.yaxis)
    figure.legend(loc="outside lower center", ncols=4, frameon=False)
    axes.grid(color="#e4e7ec", lw=0.6)
    axes.set_axisbelow(True)
    for spine in ("top", "right"):
        axes.spines[spine].set_visible(False)
    axes.set_title(set_up_line(plan, show) + "\n" + headline(plan, show), loc="left", fontsize=11)
    return figure


def _range_m(plan: Plan) -> tuple[float, float]:
    """Distances to show, from the sensor plane: the zone with as much again around it."""
    zone = plan.zone
    nearest = zone.from_sensor_m(2 * plan.set_up.focal_length_m)
    left = max(
        zone.near_from_sensor_m - 1.2 * zone.in_front_m, 0.35 * zone.best_from_sensor_m, nearest
    )
    right = (
        zone.far_from_sensor_m + 1.5 * zone.behind_m
        if math.isfinite(zone.far_from_sensor_m)
        else zone.best_from_sensor_m * 3
    )
    right = min(right, zone.best_from_sensor_m * 3)
    background = plan.set_up.place.background_distance_m
    if background is not None and background <= zone.best_from_sensor_m * 4:
        right = max(right, background * 1.05)
    return left, max(right, zone.best_from_sensor_m + 2 * zone.in_front_m)


def _top_mm(blur_m: object, c: float) -> float:
    """Height of the axis: the curve's own, but not so much that the criterion cannot be seen."""
    return min(max(float(np.max(np.asarray(blur_m))), 2.2 * c), 8 * c) * 1.05e3
