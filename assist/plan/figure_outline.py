"""A plain figure, standing or seated, seen from its left, facing the camera at the drawing's left.

Proportions are those of `optics.figure`; how thick the parts are drawn is taste, and so is the
seat, which may be one with wheels. The eyes are over the origin.
"""

from __future__ import annotations

import math

import numpy as np

from optics.checks import FloatArray
from optics.figure import (
    ANKLE_HEIGHT,
    HIP_HEIGHT,
    KNEE_HEIGHT,
    SHOULDER_HEIGHT,
    TOES_BEFORE_EYES,
    Figure,
)

Point = tuple[float, float]

_ROUND_STEPS = 17
_SHANK = math.radians(15)  # of who sits, forwards
_SHANK_LENGTH = KNEE_HEIGHT - ANKLE_HEIGHT
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


def outline(figure: Figure) -> list[FloatArray]:
    """Head, trunk and legs as polygons (points, 2) in metres above the ground."""
    legs = _seated_legs(figure) if figure.is_seated else _standing_legs()
    eyes, shoulder, hip = _of_trunk(figure)
    parts = [
        _ellipse((0.030, eyes), 0.050, 0.064),
        _limb((_TRUNK, eyes - 0.036), (_TRUNK, shoulder), 0.025, 0.032),
        _limb((_TRUNK, shoulder - 0.045), (_TRUNK, hip + 0.02), 0.060, 0.058),
        *legs,
    ]
    return [part * figure.stature_m for part in parts]


def arm(figure: Figure) -> list[FloatArray]:
    """The arm, which lies before the trunk: hanging down, or the hand in the lap."""
    _, shoulder, hip = _of_trunk(figure)
    start = (_TRUNK + 0.010, shoulder - 0.03)
    if figure.is_seated:
        elbow, hand = (_TRUNK, shoulder - 0.19), (-0.13, hip + 0.06)
        parts = [_limb(start, elbow, 0.030, 0.024), _limb(elbow, hand, 0.024, 0.018)]
    else:
        parts = [_limb(start, (_TRUNK, 0.47), 0.030, 0.020)]
    return [part * figure.stature_m for part in parts]


def _of_trunk(figure: Figure) -> tuple[float, float, float]:
    """Heights of eyes, shoulder and hip, as fractions of stature."""
    shoulder, hip = (figure.on_trunk_m(at) for at in (SHOULDER_HEIGHT, HIP_HEIGHT))
    return figure.eyes_m / figure.stature_m, shoulder / figure.stature_m, hip / figure.stature_m


def _standing_legs() -> list[FloatArray]:
    knee, ankle = KNEE_HEIGHT, ANKLE_HEIGHT
    return [
        _limb((_TRUNK, HIP_HEIGHT), (_TRUNK - 0.005, knee), 0.056, 0.036),
        _limb((_TRUNK - 0.005, knee), (_TRUNK + 0.010, ankle + 0.010), 0.036, 0.022),
        _limb((_TRUNK + 0.015, 0.020), (_TRUNK - 0.085, 0.015), 0.019, 0.014),
    ]


def _seated_legs(figure: Figure) -> list[FloatArray]:
    """Thigh along the seat, shank held a little forwards, the foot ending where the toes are."""
    hip, knee = figure.on_trunk_m(HIP_HEIGHT) / figure.stature_m, figure.knees_m / figure.stature_m
    knee_x = _TRUNK - (HIP_HEIGHT - KNEE_HEIGHT)
    ankle_x, ankle = (
        knee_x - _SHANK_LENGTH * math.sin(_SHANK),
        knee - _SHANK_LENGTH * math.cos(_SHANK),
    )
    sole = ankle - ANKLE_HEIGHT
    return [
        _limb((_TRUNK, hip), (knee_x, knee), 0.054, 0.036),
        _limb((knee_x, knee), (ankle_x, ankle), 0.036, 0.022),
        _limb((ankle_x + 0.010, sole + 0.020), (-TOES_BEFORE_EYES + 0.014, sole + 0.015), 0.019,
              0.014),
    ]  # fmt: skip


def seat(figure: Figure) -> list[FloatArray]:
    """A plain seat under who sits: board, back, legs, and a rest for feet that do not reach down.

    In metres; empty for who stands.
    """
    if figure.seat_height_m is None:
        return []
    stature, top = figure.stature_m, figure.seat_height_m
    front, back = (_TRUNK - 0.19) * stature, (_TRUNK + 0.075) * stature
    thick, leg = 0.05, 0.025
    corners = [
        (front, top - thick, back, top),
        (back, top - thick, back + 0.03, top + 0.24 * stature),
        (front + 0.04, 0.0, front + 0.04 + leg, top - thick),
        (back - leg, 0.0, back, top - thick),
    ]
    parts = [
        np.array([(left, low), (right, low), (right, high), (left, high)])
        for left, low, right, high in corners
    ]
    sole = figure.knees_m - (_SHANK_LENGTH * math.cos(_SHANK) + ANKLE_HEIGHT) * stature
    if sole > thick:
        toes, heel = -TOES_BEFORE_EYES * stature, (0.12 - TOES_BEFORE_EYES) * stature
        rest = [(toes, sole - 0.02), (heel, sole - 0.02), (heel, sole), (toes, sole)]
        strut = [(heel - 0.02, sole), (heel, sole), (front + 0.03, top - thick)]
        parts += [np.array(rest), np.array([*strut, (front, top - thick)])]
    return parts
