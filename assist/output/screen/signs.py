"""Signs that say the action by shape: drawn as outlines, so that any size is sharp."""

from __future__ import annotations

import math
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

    def fill_around(self, corners: Corners, hole: Corners) -> None:
        """A polygon with a hole in it."""
        points = [self._points(corners, 1.0), self._points(hole, 1.0)]
        cv2.fillPoly(self.canvas, points, self.colour, cv2.LINE_AA, _FINE)

    def line(self, corners: Corners, *, closed: bool, part: int = 12, scale: float = 1.0) -> None:
        """A line through the corners, as wide as that part of the square."""
        points, wide = [self._points(corners, scale)], max(2, self.size // part)
        cv2.polylines(self.canvas, points, closed, self.colour, wide, cv2.LINE_AA, _FINE)

    def disc(self, middle: tuple[float, float], radius: float) -> None:
        """A solid disc."""
        x, y = (int(value) for value in self._points([middle], 1.0)[0])
        wide = round(radius * self.size) << _FINE
        cv2.circle(self.canvas, (x, y), wide, self.colour, -1, cv2.LINE_AA, _FINE)


def draw(
    canvas: ColourImage, action: Action, x: int, y: int, size: int, colour: Colour, lean: float = 0
) -> None:
    """Paint the sign into a square of the canvas, in place.

    forward: a solid arrow into a camera; back: two open angles away from it, the farther one
    smaller: so drawn neither can be misread where the screen lies in a hand; hold: a tick; stop: a
    solid octagon; again: a ring with an arrowhead; reframe: a picture in its frame, which somebody
    overlaps at the left (`lean` positive: they go right) or at the right, with an arrow the way
    they are to go, else at the top; not sure: a hollow diamond, with a small arrow in it where
    `lean` says that forward (positive) or back (negative) is likelier; no one: a hollow square; no
    feed: the same, crossed out.
    """
    _SIGNS[action](_Square(canvas, x, y, size, colour), lean)


def _camera(place: _Square) -> None:
    """A camera at the lower edge: body, viewfinder, and its lens as a hole."""
    body = [(0.14, 0.72), (0.36, 0.72), (0.42, 0.66), (0.58, 0.66), (0.64, 0.72), (0.86, 0.72),
            (0.86, 1.02), (0.14, 1.02)]  # fmt: skip
    turn = [2 * math.pi * k / 24 for k in range(24)]
    lens = [(0.5 + 0.1 * math.cos(angle), 0.87 + 0.1 * math.sin(angle)) for angle in turn]
    place.fill_around(body, lens)


def _forward(place: _Square, _: float) -> None:
    place.fill([(0.36, 0.0), (0.64, 0.0), (0.64, 0.28), (0.88, 0.28), (0.5, 0.62), (0.12, 0.28),
                (0.36, 0.28)])  # fmt: skip
    _camera(place)


def _back(place: _Square, _: float) -> None:
    place.line([(0.1, 0.62), (0.5, 0.3), (0.9, 0.62)], closed=False, part=9)
    place.line([(0.2, 0.34), (0.5, 0.1), (0.8, 0.34)], closed=False, part=10)
    _camera(place)


def _hold(place: _Square, _: float) -> None:
    place.fill([(0.0, 0.52), (0.17, 0.35), (0.38, 0.56), (0.83, 0.1), (1.0, 0.27), (0.38, 0.9)])


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
    place.line(
        [(0.0, 0.14), (1.0, 0.14), (1.0, 0.86), (0.0, 0.86)], closed=True, part=14, scale=0.92
    )
    if not lean:  # the head is above the frame
        place.disc((0.5, 0.12), 0.12)
        place.fill([(0.32, 0.3), (0.68, 0.3), (0.74, 0.86), (0.26, 0.86)])
        return
    beside, corners = (0.14, _ARROW_RIGHT) if lean > 0 else (0.86, _ARROW_LEFT)
    place.disc((beside, 0.34), 0.1)
    place.fill([(beside - 0.13, 0.48), (beside + 0.13, 0.48), (beside + 0.13, 0.86),
                (beside - 0.13, 0.86)])  # fmt: skip
    shift = 0.13 if lean > 0 else -0.13
    place.fill([(0.5 + shift + 0.44 * (u - 0.5), 0.5 + 0.44 * (v - 0.5)) for u, v in corners])


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
    Action.FORWARD: _forward,
    Action.BACK: _back,
    Action.HOLD: _hold,
    Action.STOP: _stop,
    Action.AGAIN: _again,
    Action.REFRAME: _reframe,
    Action.NOT_SURE: _not_sure,
    Action.NO_ONE: _no_one,
    Action.NO_FEED: _no_feed,
}
