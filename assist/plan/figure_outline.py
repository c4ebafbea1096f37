"""A plain standing figure seen from its left, facing the camera at the drawing's left.

Proportions: Drillis and Contini, in Winter (from memory), as in `optics.framing`; how thick the
parts are drawn is taste. The eyes stand over the origin.
"""

from __future__ import annotations

import math

from optics import framing

Outline = list[tuple[float, float]]

_ROUND_STEPS = 16


def _limb(
    start: tuple[float, float], end: tuple[float, float], start_radius: float, end_radius: float
) -> Outline:
    """A tapering part with round ends."""
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    points: Outline = []
    for (x, y), radius, turn in (
        (start, start_radius, math.pi / 2),
        (end, end_radius, -math.pi / 2),
    ):
        for step in range(_ROUND_STEPS + 1):
            at = angle + turn + math.pi * step / _ROUND_STEPS
            points.append((x + radius * math.cos(at), y + radius * math.sin(at)))
    return points


def outline(stature_m: float) -> list[Outline]:
    """The parts of the figure as polygons, metres, feet on the ground."""
    h = stature_m
    body_x = 0.045 * h  # the trunk stands a little behind the eyes
    shoulder, hip = framing.SHOULDER_HEIGHT * h, framing.HIP_HEIGHT * h
    knee, ankle = framing.KNEE_HEIGHT * h, framing.ANKLE_HEIGHT * h
    return [
        _ellipse(0.030 * h, 0.935 * h, 0.050 * h, 0.065 * h),
        _limb((body_x, 0.90 * h), (body_x, shoulder), 0.025 * h, 0.032 * h),
        _limb((body_x, shoulder - 0.045 * h), (body_x, hip + 0.02 * h), 0.060 * h, 0.058 * h),
        _limb((body_x, hip), (body_x - 0.005 * h, knee), 0.056 * h, 0.036 * h),
        _limb(
            (body_x - 0.005 * h, knee), (body_x + 0.01 * h, ankle + 0.01 * h), 0.036 * h, 0.022 * h
        ),
        _limb(
            (body_x + 0.015 * h, 0.020 * h), (body_x - 0.085 * h, 0.015 * h), 0.019 * h, 0.014 * h
        ),
    ]


def _ellipse(x: float, y: float, half_width: float, half_height: float) -> Outline:
    return [
        (x + half_width * math.cos(a), y + half_height * math.sin(a))
        for a in (2 * math.pi * k / 40 for k in range(40))
    ]
