"""Bars with a camera's own signs in them, of any colour, or on one side only.

Black and empty bars are found to the pixel by `assist.feed.black_bars`. A camera's video output
with its display of settings on has figures in them; other devices fill them with grey, blue or a
blurred copy of the picture. What all have in common: a straight seam along the whole side, at a
place that leaves a picture of a known shape, and behind it nothing of the scene: one colour with
signs on it, or nothing sharp. A wall, a door frame or a curtain has no such seams on both sides
alike, and is hardly of one even colour.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage
from assist.feed.black_bars import PictureArea
from optics.checks import FloatArray

Grey = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Colour = tuple[float, float, float]
"""Blue, green and red, 0 to 255."""

_LOOKED_AT_PX = 640
"""Longest side of what is looked at: seams are found in a smaller picture, and then placed."""
_SHAPES = (9 / 16, 5 / 8, 2 / 3, 3 / 4, 4 / 5, 1.0, 5 / 4, 4 / 3, 3 / 2, 16 / 10, 16 / 9, 17 / 9,
           1.85, 2.0, 2.2, 2.35, 2.39)  # fmt: skip
"""Shapes of pictures, width over height, that cameras put out. Common practice, no source."""
_SHAPE_TOLERANCE = 0.003
_UNLIKE_PX = 3
_LEAST_BAR = 0.012
_LEAST_PICTURE = 0.3
"""Of the feed's width or height."""

_ALIKE = 10
"""Levels within which a place has the colour of the bar: compression takes as much."""
_EVEN = 3
"""Levels within which nearly all of that lies where no light has fallen."""
_FINE = 1
"""Levels by which a place differs from its surroundings where nothing is sharp."""
_JUMP = 4
"""Levels from what is not sharp to what begins at a seam."""
_BEFORE_PX = 4
"""So many pixels up to a seam must be of the bar, but for those in which it is smeared."""
_AFTER_PX = 2

_BORDER, _PLAIN = 0.5, 0.3
"""Share of the feed's edge, and of all of the bar, that must be free of signs."""
_CLEAR, _SURELY_CLEAR = 0.80, 0.92
"""Share of a seam's part that is free of signs in which the bar must end just there."""
_SEEN, _ONE_SIDED_SEEN = 0.20, 0.40
"""Share of the seam that must be free of signs."""
_SURELY_EVEN = 0.85
_FAR_SIDE = 0.5
"""Share of the other bar that must have that colour exactly where no seam shows at it."""
_BLURRED, _BLURRED_CLEAR = 0.55, 0.70
_SHARPER_INSIDE = 0.7
"""Share of the picture beside a blurred bar that may be as smooth, over the bar's."""


@dataclass(frozen=True, slots=True)
class Framed:
    """Bars that a feed has, or seems to have.

    area: the picture between them.   sure: whether nothing else can look so; what is not sure is
    to be doubted, and nothing cut.   colour: of the bars, None where they have no single one.
    """

    area: PictureArea
    sure: bool
    colour: Colour | None


@dataclass(frozen=True, slots=True)
class _Seam:
    """A straight line along one side of the picture with a bar between it and the edge.

    at_px: where the bar ends.   clear: share of the line, as far as the bar is to be seen at it,
    behind which it ends there.   seen: that part, as a share of the line.   even: share of the bar,
    its signs apart, that has one colour exactly.   colour: of the bar.
    """

    at_px: int
    clear: float
    seen: float
    even: float = 0.0
    colour: FloatArray | None = None


def small(picture: ColourImage) -> ColourImage:
    """The picture as it is looked at."""
    height, width = picture.shape[:2]
    scale = _LOOKED_AT_PX / max(height, width)
    if scale >= 1:
        return picture
    size = (round(width * scale), round(height * scale))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)


def find_framed(pictures: Sequence[ColourImage]) -> Framed | None:
    """Bars in every one of some pictures of one size, made `small`; None: there seem to be none."""
    total = np.zeros(pictures[0].shape, np.float32)
    for picture in pictures:
        cv2.accumulate(picture, total)
    mean = cv2.convertScaleAbs(total, alpha=1 / len(pictures)).astype(np.uint8, copy=False)
    return _both_sides(mean) or _one_side(mean) or _blurred_sides(mean)


def in_full(area: PictureArea, small_px: tuple[int, int], full_px: tuple[int, int]) -> PictureArea:
    """An area of a small picture in the whole one; sizes are width and height."""
    across, down = full_px[0] / small_px[0], full_px[1] / small_px[1]
    return PictureArea(
        round(area.left_px * across),
        round(area.top_px * down),
        round(area.width_px * across),
        round(area.height_px * down),
    )


# -- what is around the picture ---------------------------------------------------------------


def _both_sides(mean: ColourImage) -> Framed | None:
    """Bars of one colour alike on both sides, above and below, or all round."""
    height, width = mean.shape[:2]
    for pair in (*_pairs(mean, _coloured), None):
        inside = mean if pair is None else mean[:, pair[0].at_px : width - pair[1].at_px]
        for other in (None, *_pairs(_turned(inside), _coloured)):
            seams = (*(pair or ()), *(other or ()))
            if not seams:
                continue
            left, right = (0, 0) if pair is None else (pair[0].at_px, pair[1].at_px)
            top, bottom = (0, 0) if other is None else (other[0].at_px, other[1].at_px)
            area = PictureArea(left, top, width - left - right, height - top - bottom)
            if _known_shape(area, 2.0):
                return _framed(area, seams)
    return None


def _framed(area: PictureArea, seams: Sequence[_Seam]) -> Framed:
    colours = np.array([seam.colour for seam in seams])
    sure = float(np.ptp(colours, axis=0).max()) <= _EVEN and all(
        seam.clear >= _SURELY_CLEAR and seam.even >= _SURELY_EVEN for seam in seams
    )
    blue, green, red = (float(level) for level in colours.mean(axis=0))
    return Framed(area, sure, (blue, green, red))


def _one_side(mean: ColourImage) -> Framed | None:
    """Bars of which one side alone shows a seam: never sure, as a wall may look so.

    There may be no bar on the other side, or one that the scene beside it does not differ from.
    """
    height, width = mean.shape[:2]
    turned = _turned(mean)
    views: tuple[tuple[ColourImage, Callable[[int, int], PictureArea]], ...] = (
        (mean, lambda x, far: PictureArea(x, 0, width - x - far, height)),
        (mean[:, ::-1], lambda x, far: PictureArea(far, 0, width - x - far, height)),
        (turned, lambda y, far: PictureArea(0, y, width, height - y - far)),
        (turned[:, ::-1], lambda y, far: PictureArea(0, far, width, height - y - far)),
    )
    for view, area_of in views:
        for seam in _coloured(view):
            x = seam.at_px
            clear = seam.clear >= _SURELY_CLEAR and seam.seen >= _ONE_SIDED_SEEN
            if not clear or seam.even < _SURELY_EVEN:
                continue
            if _known_shape(area_of(x, 0), 1.0):
                return Framed(area_of(x, 0), False, None)
            if 2 * x <= (1 - _LEAST_PICTURE) * view.shape[1] and seam.colour is not None:
                other = _away(view[:, -x:], seam.colour) <= _EVEN
                if other.mean() >= _FAR_SIDE and _known_shape(area_of(x, x), 1.0):
                    return Framed(area_of(x, x), False, None)
    return None


def _blurred_sides(mean: ColourImage) -> Framed | None:
    """Bars filled with a blurred copy: never sure, as what is out of focus may look so."""
    height, width = mean.shape[:2]
    for left, right in _pairs(mean, _blurred):
        area = PictureArea(left.at_px, 0, width - left.at_px - right.at_px, height)
        if _known_shape(area, 1.0):
            return Framed(area, False, None)
    for top, bottom in _pairs(_turned(mean), _blurred):
        area = PictureArea(0, top.at_px, width, height - top.at_px - bottom.at_px)
        if _known_shape(area, 1.0):
            return Framed(area, False, None)
    return None


def _turned(picture: ColourImage) -> ColourImage:
    """With its rows as columns."""
    return np.asarray(picture.transpose(1, 0, 2))


def _known_shape(area: PictureArea, slack_px: float) -> bool:
    shape = area.width_px / area.height_px
    tolerance = _SHAPE_TOLERANCE + slack_px / min(area.width_px, area.height_px)
    return any(abs(shape / known - 1) <= tolerance for known in _SHAPES)


# -- seams ------------------------------------------------------------------------------------


def _pairs(
    mean: ColourImage, find: Callable[[ColourImage], list[_Seam]]
) -> list[tuple[_Seam, _Seam]]:
    """Seams to the left and to the right that are alike."""
    lefts = find(mean)
    rights = find(mean[:, ::-1]) if lefts else []
    return [
        (left, right)
        for left in lefts
        for right in rights
        if abs(left.at_px - right.at_px) <= _UNLIKE_PX
        and left.at_px + right.at_px <= (1 - _LEAST_PICTURE) * mean.shape[1]
        and _one_colour(left, right)
    ]


def _one_colour(one: _Seam, other: _Seam) -> bool:
    if one.colour is None or other.colour is None:
        return True
    return float(np.abs(one.colour - other.colour).max()) <= _ALIKE


def _coloured(mean: ColourImage) -> list[_Seam]:
    """Seams to the left of which, up to the edge, all but signs is of one colour."""
    edge = mean[:, 1 : 1 + max(4, mean.shape[1] // 100)]
    colour = np.median(edge.reshape(-1, 3), axis=0)
    away = _away(mean, colour)
    alike = away <= _ALIKE
    if alike[:, 1 : edge.shape[1] + 1].mean() < _BORDER:
        return []
    plain = _share_up_to(alike)
    even = _share_up_to(away <= _EVEN) / np.maximum(plain, 1e-6)
    lines = _lines(alike, _run(~alike, _AFTER_PX), gap_px=2, least=_CLEAR)
    return [
        _Seam(_steepest(mean, x, 2), clear, seen, float(even[x - 3]), colour)
        for x, clear, seen in lines
        if plain[x - 3] >= _PLAIN
    ]


def _blurred(mean: ColourImage) -> list[_Seam]:
    """Seams to the left of which, up to the edge, nothing but signs is sharp."""
    gap = 3
    mean = np.ascontiguousarray(mean)
    smooth = _unlike(mean, np.asarray(cv2.GaussianBlur(mean, (0, 0), 1.5), np.uint8)) <= _FINE
    share = _share_up_to(smooth)
    if share[round(_LEAST_BAR * mean.shape[1])] < _BLURRED:
        return []
    ends = np.zeros(smooth.shape, bool)  # where the level is not that of just before the seam
    ends[:, 2 * gap :] = _unlike(mean[:, 2 * gap :], mean[:, : -2 * gap]) >= _JUMP
    found = []
    for x, clear, seen in _lines(smooth, ends, gap_px=gap, least=_BLURRED_CLEAR):
        inside = float(smooth[:, x + gap : 2 * x + gap].mean())
        if share[x - gap - 1] >= _BLURRED and inside <= _SHARPER_INSIDE * share[x - gap - 1]:
            found.append(_Seam(_steepest(mean, x, gap), clear, seen))
    return found


def _away(picture: ColourImage, colour: FloatArray) -> Grey:
    """By how many levels each place is another colour."""
    return _unlike(picture, np.array([*colour, 0.0]))


def _unlike(one: ColourImage, other: ColourImage | FloatArray) -> Grey:
    """The greatest difference of the three colours at each place."""
    blue, green, red = cv2.split(cv2.absdiff(np.ascontiguousarray(one), other))
    return np.asarray(cv2.max(cv2.max(blue, green), red), np.uint8)


def _share_up_to(which: Mask) -> FloatArray:
    """Share of all from the left edge up to and with each column."""
    return np.asarray(np.cumsum(which.mean(axis=0)) / np.arange(1, which.shape[1] + 1))


def _lines(
    of_bar: Mask, begins: Mask, *, gap_px: int, least: float
) -> list[tuple[int, float, float]]:
    """Where a bar ends along the height: the column, how clearly, and how much of it is seen.

    begins: whether what is no bar begins with a place.   gap_px: over so many pixels to either side
    of the seam it is smeared.
    """
    before = _run(of_bar, _BEFORE_PX)
    first = _BEFORE_PX + gap_px
    begins = begins[:, first + gap_px :]
    count = min(before.shape[1], begins.shape[1])
    before, begins = before[:, :count], begins[:, :count]
    seen = before.mean(axis=0)
    clear = (before & begins).mean(axis=0) / np.maximum(seen, 1e-6)
    good = (clear >= least) & (seen >= _SEEN)
    good[: max(round(_LEAST_BAR * of_bar.shape[1]) - first, 0)] = False
    places = np.flatnonzero(good)
    found = []
    for plateau in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1) if places.size else ():
        best = plateau[clear[plateau] >= clear[plateau].max() - 0.02]
        at = round(float(best.mean()))
        found.append((first + at, float(clear[at]), float(seen[at])))
    return found


def _steepest(mean: ColourImage, x: int, within_px: int) -> int:
    """Where near a line the picture changes most from one column to the next."""
    first = x - within_px - 1
    part = mean[:, first : x + within_px + 1]
    return first + 1 + int(np.argmax(_unlike(part[:, 1:], part[:, :-1]).mean(axis=0)))


def _run(which: Mask, length: int) -> Mask:
    """Whether it holds for so many columns from each one on."""
    end = which.shape[1] - length + 1
    held = which[:, :end].copy()
    for k in range(1, length):
        held &= which[:, k : end + k]
    return np.asarray(held, np.bool_)
