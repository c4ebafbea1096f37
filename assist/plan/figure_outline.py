"""A plain standing figure seen from its left, facing the camera at the drawing's left.

Proportions: Drillis and Contini, in Winter (from memory), as in `optics.framing`; how thick the
parts are drawn is taste. The eyes stand over the origin.
"""

from __future__ import annotations

import math

import numpy as np

from optics import framing
from optics.checks import FloatArray

Point = tuple[float, float]

_ROUND_STEPS = 17
_TRUNK = 0.045  # the trunk stands a little behind the eyes; all parts as fractions of stature


def _limb(start: Point, end: Point, start_radius: float, end_radius: float) -> FloatArray:
    """A tapering part with round ends."""
    along = math.atan2(end[1] - start[1], end[0] - start[0])
    half_turn = np.linspace(0.0, math.pi, _ROUND_STEPS)
    near_end = along + math.pi / 2 + half_turn
    far_end = along - math.pi / 2 + half_turn
    return np.concatenate(
        [
            start + start_radius * np.column_stack([np.cos(near_end), np.sin(near_end)]),
            end + end_radius * np.column_stack([np.cos(far_end), np.sin(far_end)]),
        ]
    )


def _ellipse(middle: Point, half_width: float, half_height: float) -> FloatArray:
    turn = np.linspace(0.0, 2 * math.pi, 2 * _ROUND_STEPS)
    return middle + np.column_stack([half_width * np.cos(turn), half_height * np.sin(turn)])


def outline(stature_m: float) -> list[FloatArray]:
    """Parts as polygons (points, 2) in metres, feet on the ground; the arm comes last."""
    shoulder, hip = framing.SHOULDER_HEIGHT, framing.HIP_HEIGHT
    knee, ankle = framing.KNEE_HEIGHT, framing.ANKLE_HEIGHT
    parts = [
        _ellipse((0.030, framing.EYE_HEIGHT), 0.050, 0.064),
        _limb((_TRUNK, 0.90), (_TRUNK, shoulder), 0.025, 0.032),
        _limb((_TRUNK, shoulder - 0.045), (_TRUNK, hip + 0.02), 0.060, 0.058),
        _limb((_TRUNK, hip), (_TRUNK - 0.005, knee), 0.056, 0.036),
        _limb((_TRUNK - 0.005, knee), (_TRUNK + 0.010, ankle + 0.010), 0.036, 0.022),
        _limb((_TRUNK + 0.015, 0.020), (_TRUNK - 0.085, 0.015), 0.019, 0.014),
        _limb((_TRUNK + 0.010, shoulder - 0.03), (_TRUNK, 0.47), 0.030, 0.020),
    ]
    return [part * stature_m for part in parts]
