"""A clock for a camera: drawn on a screen, and read out of the pictures of a feed that shows it.

Two discs, half black and half white, turn: one in two seconds, one in twenty-four. No point changes
from dark to bright more often than once in two seconds, so nothing flashes (WCAG 2.3.1 allows three
in a second). Marks at the corners tell where it is in the picture, however it is seen: turned,
aslant, or in a mirror.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage

PERIOD_S = 24.0
"""After this long it shows the same again."""
SIZE_PX = (1280, 720)
_FAST_S = 2.0
_RADIUS = 250
_FAST_AT, _SLOW_AT = (390, 360), (890, 360)
_MARK, _EDGE = 150, 24
_DICTIONARY = cv2.aruco.DICT_4X4_50
_FIRST_MARK = 40
_BAR = (500, 780, 690, 706)
_READ_SHARE = 0.5
"""Of the clock's own size, what it is read at."""
_RINGS = np.linspace(0.35, 0.9, 12)
_ANGLES = np.linspace(0.0, 2 * math.pi, 180, endpoint=False)
_LEAST_CONTRAST = 25.0
_LEAST_SHARE = 0.2
"""Of the contrast that the first harmonic must have; a disc of two halves has 1 / pi."""
_DISAGREE_S = 0.6


def _mark_corners() -> list[NDArray[np.float32]]:
    """The corners of each mark on the clock, as the detector tells them."""
    width, height = SIZE_PX
    far_x, far_y = width - _EDGE - _MARK, height - _EDGE - _MARK
    square = np.array([(0, 0), (_MARK, 0), (_MARK, _MARK), (0, _MARK)], np.float32)
    at = ((_EDGE, _EDGE), (far_x, _EDGE), (_EDGE, far_y), (far_x, far_y))
    return [square + np.array(corner, np.float32) for corner in at]


def _face() -> ColourImage:
    """What of it does not move."""
    width, height = SIZE_PX
    face = np.full((height, width, 3), 235, np.uint8)
    dictionary = cv2.aruco.getPredefinedDictionary(_DICTIONARY)
    for number, corners in enumerate(_mark_corners()):
        left, top = (round(float(value)) for value in corners[0])
        mark = cv2.aruco.generateImageMarker(dictionary, _FIRST_MARK + number, _MARK)
        face[top : top + _MARK, left : left + _MARK] = mark[:, :, None]
    return face


class MovingClock:
    """Draws the clock."""

    def __init__(self) -> None:
        self._face = _face()

    def at(self, time_s: float, done: float = 0.0) -> ColourImage:
        """What it shows at that time. `done`: length of the bar below, 0 to 1."""
        picture = self._face.copy()
        for centre, period_s in ((_FAST_AT, _FAST_S), (_SLOW_AT, PERIOD_S)):
            _draw_disc(picture, centre, 2 * math.pi * time_s / period_s)
        left, right, top, bottom = _BAR
        end = round(left + (right - left) * min(max(done, 0.0), 1.0))
        cv2.rectangle(picture, (left, top), (right, bottom), (190, 190, 190), -1)
        cv2.rectangle(picture, (left, top), (end, bottom), (60, 60, 60), -1)
        return np.asarray(picture, np.uint8)


def _draw_disc(picture: ColourImage, centre: tuple[int, int], bright: float) -> None:
    """A white disc, black in the half away from the angle `bright`."""
    cv2.circle(picture, centre, _RADIUS, (255, 255, 255), -1, cv2.LINE_AA)
    turned = bright + math.pi / 2 + np.linspace(0.0, math.pi, 91)
    half = np.stack([np.cos(turned), np.sin(turned)], axis=1) * _RADIUS + np.array(centre)
    shift = 4  # parts of a pixel
    points = np.round(half * (1 << shift)).astype(np.int32)
    cv2.fillConvexPoly(picture, points, (0, 0, 0), cv2.LINE_AA, shift)


class ClockReader:
    """Reads the clock out of pictures."""

    def __init__(self) -> None:
        parameters = cv2.aruco.DetectorParameters()
        parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
        dictionary = cv2.aruco.getPredefinedDictionary(_DICTIONARY)
        self._detector = cv2.aruco.ArucoDetector(dictionary, parameters)
        self._corners = _mark_corners()
        self._mirrored = False
        self._maps = {centre: _ring_map(centre) for centre in (_FAST_AT, _SLOW_AT)}

    def read(self, picture: ColourImage) -> float | None:
        """The time that it shows, from 0 to `PERIOD_S`; None where it cannot be read."""
        grey = np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), np.uint8)
        # As it was seen last time first: looking for it takes most of the time.
        for mirrored in (self._mirrored, not self._mirrored):
            seen = np.ascontiguousarray(grey[:, ::-1]) if mirrored else grey
            upright = self._upright(seen)
            if upright is not None:
                self._mirrored = mirrored
                return self._time_on(upright)
        return None

    def _upright(self, grey: NDArray[np.uint8]) -> NDArray[np.uint8] | None:
        """The clock as it was drawn, smaller; None where too few of its marks are seen."""
        found, numbers, _ = self._detector.detectMarkers(grey)
        if numbers is None:
            return None
        ours = {
            int(number[0]) - _FIRST_MARK: corners.reshape(4, 2)
            for number, corners in zip(numbers, found, strict=True)
        }
        seen = [n for n in ours if 0 <= n < len(self._corners)]
        if len(seen) < 2:
            return None
        there = np.concatenate([ours[n] for n in seen])
        drawn = np.concatenate([self._corners[n] for n in seen]) * _READ_SHARE
        matrix, _ = cv2.findHomography(there, drawn)
        if matrix is None:
            return None
        size = (round(SIZE_PX[0] * _READ_SHARE), round(SIZE_PX[1] * _READ_SHARE))
        return np.asarray(cv2.warpPerspective(grey, matrix, size), np.uint8)

    def _time_on(self, upright: NDArray[np.uint8]) -> float | None:
        fast = self._angle(upright, _FAST_AT)
        slow = self._angle(upright, _SLOW_AT)
        if fast is None or slow is None:
            return None
        fast_s, slow_s = fast / (2 * math.pi) * _FAST_S, slow / (2 * math.pi) * PERIOD_S
        time_s = fast_s + _FAST_S * round((slow_s - fast_s) / _FAST_S)
        return None if abs(time_s - slow_s) > _DISAGREE_S else time_s % PERIOD_S

    def _angle(self, upright: NDArray[np.uint8], centre: tuple[int, int]) -> float | None:
        """Where the bright half of a disc is, radians; None for what is no such disc."""
        across, down = self._maps[centre]
        light = cv2.remap(upright, across, down, cv2.INTER_LINEAR).astype(np.float64)
        dark, bright = np.percentile(light, (10, 90))
        harmonic = (light * np.exp(1j * _ANGLES)).mean()
        contrast = float(bright - dark)
        if contrast < _LEAST_CONTRAST or abs(harmonic) < _LEAST_SHARE * contrast:
            return None
        return float(np.angle(harmonic)) % (2 * math.pi)


def _ring_map(centre: tuple[int, int]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Where to look at a disc: rings by angles, in the smaller picture."""
    radii = _RADIUS * _RINGS[:, None]
    across = (centre[0] + radii * np.cos(_ANGLES)) * _READ_SHARE
    down = (centre[1] + radii * np.sin(_ANGLES)) * _READ_SHARE
    return across.astype(np.float32), down.astype(np.float32)


def behind_s(shown_s: float, taken_s: float) -> float:
    """How long after the time that a picture shows it seems to have been taken.

    Between two seconds before and all of the rest of a period after.
    """
    early_s = 2.0
    return (taken_s - shown_s + early_s) % PERIOD_S - early_s
