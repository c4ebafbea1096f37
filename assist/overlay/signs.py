"""Signs that say the action by shape: drawn as outlines, so that any size is sharp."""

from __future__ import annotations

import cv2
import numpy as np

from assist.guidance import Action
from assist.overlay.palette import Colour
from assist.pose import ColourImage

_FINE = 3  # fractional bits of OpenCV's drawing coordinates

# Corners in a unit square, x right, y down. Forward is towards the viewer of the screen: down.
_ARROW_DOWN = [(0.3, 0.0), (0.7, 0.0), (0.7, 0.5), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5), (0.3, 0.5)]


def _polygon(canvas: ColourImage, corners: list[tuple[float, float]], colour: Colour) -> None:
    points = np.round(np.array(corners) * (1 << _FINE)).astype(np.int32)
    cv2.fillPoly(canvas, [points], colour, cv2.LINE_AA, _FINE)


def draw(
    canvas: ColourImage, action: Action, x: int, y: int, size: int, colour: Colour, lean: float = 0
) -> None:
    """Paint the sign into a square of the canvas, in place.

    forward: an arrow down, out of the screen towards the viewer; back: an arrow up, into it;
    hold: a solid square standing on a bar; stop: a solid octagon; again: a
    ring with an arrowhead; not sure: a hollow diamond, with
    a small arrow in it where `lean` says that forward (positive) or back (negative) is likelier;
    no one: a hollow square; no feed: the same, crossed out.
    """

    def place(corners: list[tuple[float, float]], scale: float = 1.0) -> list[tuple[float, float]]:
        inset = (1 - scale) / 2
        return [
            (x + size * (inset + scale * u), y + size * (inset + scale * v)) for u, v in corners
        ]

    if action in (Action.FORWARD, Action.BACK):
        up = action is Action.BACK
        _polygon(canvas, place([(u, 1 - v if up else v) for u, v in _ARROW_DOWN]), colour)
    elif action is Action.HOLD:
        _polygon(canvas, place([(0.2, 0.05), (0.8, 0.05), (0.8, 0.72), (0.2, 0.72)]), colour)
        _polygon(canvas, place([(0.0, 0.84), (1.0, 0.84), (1.0, 1.0), (0.0, 1.0)]), colour)
    elif action is Action.NOT_SURE:
        diamond = np.array(place([(0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5)]))
        cv2.polylines(
            canvas, [diamond.astype(np.int32)], True, colour, max(2, size // 12), cv2.LINE_AA
        )
        if lean:
            arrow = [(u, v if lean > 0 else 1 - v) for u, v in _ARROW_DOWN]
            _polygon(canvas, place(arrow, 0.42), colour)
    elif action is Action.AGAIN:
        # Round and back: three quarters of a ring that ends in an arrowhead pointing down.
        centre, radius = (x + size // 2, y + size // 2), round(0.38 * size)
        wide = max(2, size // 7)
        cv2.ellipse(canvas, centre, (radius, radius), 0, 90, 360, colour, wide, cv2.LINE_AA)
        _polygon(canvas, place([(0.72, 0.5), (1.05, 0.5), (0.88, 0.85)]), colour)
    elif action is Action.STOP:
        octagon = [(0.29, 0.0), (0.71, 0.0), (1.0, 0.29), (1.0, 0.71)]
        octagon += [(1 - u, 1 - v) for u, v in octagon]
        _polygon(canvas, place(octagon), colour)
    else:
        corners = np.array(place([(0.08, 0.08), (0.92, 0.08), (0.92, 0.92), (0.08, 0.92)]))
        cv2.polylines(
            canvas, [corners.astype(np.int32)], True, colour, max(2, size // 12), cv2.LINE_AA
        )
        if action is Action.NO_FEED:
            for one, other in ((0, 2), (1, 3)):
                ends = corners[[one, other]].astype(int).tolist()
                cv2.line(canvas, ends[0], ends[1], colour, max(2, size // 12), cv2.LINE_AA)
