"""Where the eyes were, on a line from the camera, with the focus zone: a small drawing as SVG.

Readable without colour: the zone is hatched, and each kind of place has its own mark and label.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from assist.base.words import _, current
from assist.guidance.verdict import NINETY_PERCENT
from assist.review.figures import metres

_WIDTH, _LEFT, _RIGHT = 640, 46, 24
_ROW, _TOP = 24, 16


@dataclass(frozen=True, slots=True)
class Place:
    """A distance to mark and its standard deviation, metres from the sensor plane."""

    label: str
    distance_m: float
    sd_m: float | None = None


def draw(near_m: float, far_m: float, focus_m: float, places: Sequence[Place]) -> Markup:
    """The drawing. far_m may be infinite."""
    reach = [focus_m * 1.3, near_m * 1.5]
    if math.isfinite(far_m):
        reach.append(far_m * 1.15)
    reach += [p.distance_m + NINETY_PERCENT * (p.sd_m or 0.0) * 1.05 for p in places]
    low = min([near_m, *(p.distance_m - NINETY_PERCENT * (p.sd_m or 0.0) for p in places)])
    end = max(reach)
    # A shallow zone would be a hair on a line from the camera: begin the line nearer to it.
    start = 0.0 if low < 0.45 * end else max(0.0, low - 0.35 * (end - low))
    end = max(end, start + 1e-3)
    scale = (_WIDTH - _LEFT - _RIGHT) / (end - start)

    def x(metres: float) -> float:
        return _LEFT + (min(max(metres, start), end) - start) * scale

    rows = max(1, len(places))
    bottom = _TOP + rows * _ROW + 8
    height = bottom + 40
    parts = [
        f'<div class="plot"><svg viewBox="0 0 {_WIDTH} {height}" width="{_WIDTH}" '
        f'height="{height}" role="img" '
        f'font-family="inherit" font-size="13">'
        f"<title>{escape(_described(near_m, far_m, places))}</title>",
        '<defs><pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="7" stroke="#6d9c86" '
        'stroke-width="2.2"/></pattern></defs>',
    ]
    near_x, far_x = x(near_m), x(far_m)
    parts.append(
        f'<rect x="{near_x:.1f}" y="{_TOP - 6}" width="{max(far_x - near_x, 1.5):.1f}" '
        f'height="{bottom - _TOP + 6}" fill="url(#hatch)" fill-opacity="0.55" stroke="#2f5d49"/>'
    )
    focus_x = x(focus_m)
    parts.append(
        f'<line x1="{focus_x:.1f}" y1="{_TOP - 6}" x2="{focus_x:.1f}" y2="{bottom}" '
        'stroke="#1b1e23" stroke-dasharray="2 3" stroke-width="1.6"/>'
    )
    parts.append(
        f'<line x1="{_LEFT}" y1="{bottom}" x2="{_WIDTH - _RIGHT}" y2="{bottom}" stroke="#1b1e23"/>'
    )
    if start == 0:
        parts.append(
            f'<rect x="14" y="{bottom - 9}" width="18" height="14" fill="#1b1e23"/>'
            f'<rect x="32" y="{bottom - 6}" width="8" height="8" fill="#1b1e23"/>'
        )
    parts += _ticks(start, end, bottom, x)
    for row, place in enumerate(places):
        parts.append(_mark(place, row, x, _TOP + row * _ROW + 10))
    caption = _("metres from the sensor plane; hatched: focus zone; bars: 90 % interval")
    parts.append(
        f'<text x="{_WIDTH - _RIGHT}" y="{height - 3}" text-anchor="end" fill="#5b6470">'
        f"{escape(caption)}</text></svg></div>"
    )
    return Markup("".join(parts))


def _ticks(start: float, end: float, bottom: float, x: Callable[[float], float]) -> list[str]:
    span = end - start
    step = next(s for s in (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 50, 1e9) if span / s <= 9)
    parts = []
    value = math.ceil(start / step) * step
    while value <= end:
        at, tick = x(value), current().decimal(f"{value:g}")
        parts.append(
            f'<line x1="{at:.1f}" y1="{bottom}" x2="{at:.1f}" y2="{bottom + 5}" stroke="#1b1e23"/>'
            f'<text x="{at:.1f}" y="{bottom + 19}" text-anchor="middle">{tick}</text>'
        )
        value = round(value + step, 6)
    return parts


def _mark(place: Place, row: int, x: Callable[[float], float], y: float) -> str:
    at = x(place.distance_m)
    bar = ""
    right = at
    if place.sd_m:
        low = x(place.distance_m - NINETY_PERCENT * place.sd_m)
        right = x(place.distance_m + NINETY_PERCENT * place.sd_m)
        bar = (
            f'<path d="M{low:.1f} {y - 4} v8 M{low:.1f} {y} H{right:.1f} M{right:.1f} {y - 4} v8" '
            'stroke="#1b1e23" stroke-width="2" fill="none"/>'
        )
    shapes = (
        f'<circle cx="{at:.1f}" cy="{y}" r="5.5" fill="#1b1e23"/>',
        f'<path d="M{at:.1f} {y - 7} l7 7 -7 7 -7 -7 Z" fill="#fff" stroke="#1b1e23" '
        'stroke-width="2"/>',
        f'<rect x="{at - 5:.1f}" y="{y - 5}" width="10" height="10" fill="#fff" stroke="#1b1e23" '
        'stroke-width="2"/>',
    )
    label = f"{place.label} {metres(place.distance_m)}"
    # The label stands where there is room: after the mark, or before it.
    after = right + 12 + 6.9 * len(label) < _WIDTH
    low_x = x(place.distance_m - NINETY_PERCENT * (place.sd_m or 0.0))
    place_x, anchor = (right + 12, "start") if after else (low_x - 12, "end")
    words = (
        f'<text x="{place_x:.1f}" y="{y + 4.5}" text-anchor="{anchor}" paint-order="stroke" '
        f'stroke="#fff" stroke-width="4" fill="#1b1e23">{escape(label)}</text>'
    )
    return bar + shapes[row % len(shapes)] + words


def _described(near_m: float, far_m: float, places: Sequence[Place]) -> str:
    far = metres(far_m) if math.isfinite(far_m) else _("infinity")
    told = "; ".join(f"{p.label} {metres(p.distance_m)}" for p in places)
    return _("Focus zone {near} to {far}. {places}", near=metres(near_m), far=far, places=told)
