"""Signs that say the action by shape: drawn as outlines, so that any size is sharp."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage
from assist.guidance.guide import Action
from assist.output.screen.palette import Colour

_FINE = 3  # fractional bits of OpenCV's drawing coordinates
Corners = list[tuple[float, float]]

# Corners in a unit square, x right, y down. Forward is towards the viewer of the screen: down.
_ARROW_DOWN = [(0.3, 0.0), (0.7, 0.0), (0.7, 0.5), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5), (0.3, 0.5)]
_ARROW_UP = [(u, 1 - v) for u, v in _ARROW_DOWN]
_ARROW_RIGHT = [(v, u) for u, v in _ARROW_DOWN]
_ARROW_LEFT = [(1 - v, u) for u, v in _ARROW_DOWN]
_SQUARE = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]


@dataclass(frozen=True, slots=True)
class _Square:
    """A square of the canvas to draw in, in one colour."""

    canvas: ColourImage
    x: int
    y: int
    size: int
    colour: Colour

    def _points(self, corners: Corners, scale: float) -> NDArray[np.int32]:
        inset = (1 - scale) / 2
        at = np.array(corners) * scale + inset
        fine = (at * self.size + [self.x, self.y]) * (1 << _FINE)
        return np.asarray(np.round(fine), dtype=np.int32)

    def fill(self, corners: Corners, scale: float = 1.0) -> None:
        """A polygon; `scale` brings it nearer to the middle."""
        points = [self._points(corners, scale)]
        cv2.fillPoly(self.canvas, points, self.colour, cv2.LINE_AA, _FINE)

    def line(self, corners: Corners, *, closed: bool, part: int = 12, scale: float = 1.0) -> None:
        """A line through the corners, as wide as that part of the square."""
        points, wide = [self._points(corners, scale)], max(2, self.size // part)
        cv2.polylines(self.canvas, points, closed, self.colour, wide, cv2.LINE_AA, _FINE)


def draw(
    canvas: ColourImage, action: Action, x: int, y: int, size: int, colour: Colour, lean: float = 0
) -> None:
    """Paint the sign into a square of the canvas, in place.

    forward: an arrow down, out of the screen towards the viewer; back: an arrow up, into it;
    hold: a solid square standing on a bar; stop: a solid octagon; again: a ring with an arrowhead;
    reframe: the four corners of a frame, in them an arrow to the left (`lean` negative) or right
    (positive), else a small square; not sure: a hollow diamond, with a small arrow in it where
    `lean` says that forward (positive) or back (negative) is likelier; no one: a hollow square; no
    feed: the same, crossed out.
    """
    _SIGNS[action](_Square(canvas, x, y, size, colour), lean)


def _hold(place: _Square, _: float) -> None:
    place.fill([(0.2, 0.05), (0.8, 0.05), (0.8, 0.72), (0.2, 0.72)])
    place.fill([(0.0, 0.84), (1.0, 0.84), (1.0, 1.0), (0.0, 1.0)])


def _stop(place: _Square, _: float) -> None:
    half = [(0.29, 0.0), (0.71, 0.0), (1.0, 0.29), (1.0, 0.71)]
    place.fill(half + [(1 - u, 1 - v) for u, v in half])


def _again(place: _Square, _: float) -> None:
    """Round and back: three quarters of a ring that ends in an arrowhead pointing down."""
    size = place.size
    centre, radius = (place.x + size // 2, place.y + size // 2), round(0.38 * size)
    wide, axes = max(2, size // 7), (radius, radius)
    cv2.ellipse(place.canvas, centre, axes, 0, 90, 360, place.colour, wide, cv2.LINE_AA)
    place.fill([(0.72, 0.5), (1.05, 0.5), (0.88, 0.85)])


def _reframe(place: _Square, lean: float) -> None:
    for right in (0, 1):
        for below in (0, 1):
            corner = [(0.0, 0.3), (0.0, 0.0), (0.3, 0.0)]
            marks = [(abs(right - u), abs(below - v)) for u, v in corner]
            place.line(marks, closed=False, part=10, scale=0.9)
    if lean:
        place.fill(_ARROW_RIGHT if lean > 0 else _ARROW_LEFT, 0.74)
    else:
        place.fill(_SQUARE, 0.2)


def _not_sure(place: _Square, lean: float) -> None:
    place.line([(0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5)], closed=True)
    if lean:
        place.fill(_ARROW_DOWN if lean > 0 else _ARROW_UP, 0.42)


def _no_one(place: _Square, _: float) -> None:
    place.line(_SQUARE, closed=True, scale=0.84)


def _no_feed(place: _Square, _: float) -> None:
    _no_one(place, 0)
    for one, other in ((0, 2), (1, 3)):
        place.line([_SQUARE[one], _SQUARE[other]], closed=False, scale=0.84)


_SIGNS: dict[Action, Callable[[_Square, float], None]] = {
    Action.FORWARD: lambda place, _: place.fill(_ARROW_DOWN),
    Action.BACK: lambda place, _: place.fill(_ARROW_UP),
    Action.HOLD: _hold,
    Action.STOP: _stop,
    Action.AGAIN: _again,
    Action.REFRAME: _reframe,
    Action.NOT_SURE: _not_sure,
    Action.NO_ONE: _no_one,
    Action.NO_FEED: _no_feed,
}
