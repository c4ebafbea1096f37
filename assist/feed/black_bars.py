"""Black bars around a feed's picture, found in a few pictures of it.

A bar taken for a dark wall, or a dark wall for a bar, makes every distance wrong by its share of
the picture. So bars are only believed where all speaks for them: black and even in every picture,
alike on both sides, ended by a straight edge with light behind it, and leaving a picture of a usual
shape. Where a part is dark and not all of this holds, the answer is that it is not sure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import _
from optics.checks import FloatArray

_BLACK = 32
"""Brightest level of a bar: 16 is video black, and noise and compression add as much again."""
_LEAST_LIT = 0.3
_LEAST_SHARE = 0.15
"""Share of a column or row that must be lit for it to count as picture. Signs that a camera writes
into its bars stay below."""
_EDGE_LIT = 0.5
"""Share of a bar's edge behind which there must be light. A dark scene's border is not straight."""
_EDGE_PX = 4
"""Over so many pixels an edge is smeared by scaling and compression."""
_EDGE_TRIED_PX = 2
"""Narrower bars than these are not looked for."""
_UNLIKE_PX = 2
_UNEVEN = 2.0
"""Standard deviation within a bar, in levels of 255; signs in it are left out."""
_SHAPES = (1.0, 5 / 4, 4 / 3, 3 / 2, 16 / 10, 16 / 9, 17 / 9, 1.85, 2.0, 2.2, 2.35, 2.39)
"""Shapes of pictures, width over height, that cameras put out. Common practice, no source."""
_SHAPE_TOLERANCE = 0.012


@dataclass(frozen=True, slots=True)
class PictureArea:
    """The part of a feed's picture that is not black bars, in pixels."""

    left_px: int
    top_px: int
    width_px: int
    height_px: int

    @property
    def box_px(self) -> tuple[int, int, int, int]:
        """Left, top, width, height."""
        return self.left_px, self.top_px, self.width_px, self.height_px

    @classmethod
    def centred(
        cls, width_px: int, height_px: int, feed_width_px: int, feed_height_px: int
    ) -> PictureArea:
        """A picture of that size in the middle of the feed's; UserError if it does not fit."""
        if not (0 < width_px <= feed_width_px and 0 < height_px <= feed_height_px):
            raise UserError(
                _(
                    "a picture of {width}x{height} does not fit into the feed's "
                    "{feed_width}x{feed_height}",
                    width=width_px,
                    height=height_px,
                    feed_width=feed_width_px,
                    feed_height=feed_height_px,
                )
            )
        left, top = (feed_width_px - width_px) // 2, (feed_height_px - height_px) // 2
        return cls(left, top, width_px, height_px)


@dataclass(frozen=True, slots=True)
class UnsureArea:
    """Bars could neither be found nor excluded; `why` in words for a person.

    seems: the picture between bars that there seem to be; None where nothing speaks for any.
    """

    why: str
    seems: PictureArea | None = None


Level = NDArray[np.uint8]
"""The brightest of the three colours at each place of a picture."""


def brightest(picture: ColourImage) -> Level:
    """The picture's levels, all that is needed of it to find bars."""
    blue, green, red = cv2.split(picture)
    return np.asarray(cv2.max(cv2.max(blue, green), red), np.uint8)


def find_picture(pictures: Sequence[ColourImage]) -> PictureArea | UnsureArea:
    """The picture between black bars that are there in every one of some pictures of one size."""
    return find_in_levels([brightest(picture) for picture in pictures])


def find_in_levels(levels: Sequence[Level]) -> PictureArea | UnsureArea:
    """The same, from the pictures' levels."""
    raw = np.max(levels, axis=0) > _BLACK
    lit = np.max([cv2.blur(level, (3, 3)) for level in levels], axis=0) > _BLACK
    height, width = lit.shape
    columns = np.zeros(0, int)
    rows = np.flatnonzero(lit.any(axis=1))
    for _turn in range(2):  # each within what the other leaves
        if rows.size:
            share = lit[rows[0] : rows[-1] + 1].mean(axis=0)
            columns = np.flatnonzero(share > _LEAST_SHARE)
        if columns.size:
            share = lit[:, columns[0] : columns[-1] + 1].mean(axis=1)
            rows = np.flatnonzero(share > _LEAST_SHARE)
    if columns.size < _LEAST_LIT * width or rows.size < _LEAST_LIT * height:
        return UnsureArea(_("the pictures are too dark"))
    # The blur that keeps single bright pixels out smears the edges: look at them without it.
    left, right = _sharpened(raw[rows[0] : rows[-1] + 1], int(columns[0]), int(columns[-1]) + 1)
    top, bottom = _sharpened(raw[:, left:right].T, int(rows[0]), int(rows[-1]) + 1)
    inside = lit[top:bottom, left:right]
    side = _trim(left, width - right, inside, upright=False)
    end = _trim(top, height - bottom, inside.T, upright=True)
    for found in (side, end):
        if isinstance(found, UnsureArea):
            return found
    assert isinstance(side, int)
    assert isinstance(end, int)
    area = PictureArea(side, end, width - 2 * side, height - 2 * end)
    if (side or end) and not _even(np.mean(levels, axis=0), area):
        return UnsureArea(_("what is dark at the borders is not evenly black, as bars are"))
    if (side or end) and not _usual_shape(area):
        return UnsureArea(
            _(
                "the lit part of {width}x{height} has no usual shape of a picture",
                width=area.width_px,
                height=area.height_px,
            )
        )
    return area


def lit_outside(picture: ColourImage, area: PictureArea) -> bool:
    """Whether a picture shows more than signs where there should be bars around `area`."""
    right, bottom = area.left_px + area.width_px, area.top_px + area.height_px
    strips = (
        picture[:, : max(area.left_px - _EDGE_PX, 0)],
        picture[:, right + _EDGE_PX :],
        picture[: max(area.top_px - _EDGE_PX, 0)],
        picture[bottom + _EDGE_PX :],
    )
    return not all(_dark(strip) for strip in strips if strip.size)


def dark_at_the_sides(picture: ColourImage) -> bool:
    """Whether the left and the right edge of a picture may be those of bars."""
    return _dark(picture[:, :_EDGE_TRIED_PX]) and _dark(picture[:, -_EDGE_TRIED_PX:])


def dark_at_the_ends(picture: ColourImage) -> bool:
    """The same of its upper and its lower edge."""
    return _dark(picture[:_EDGE_TRIED_PX]) and _dark(picture[-_EDGE_TRIED_PX:])


def _dark(strip: ColourImage) -> bool:
    """Whether there are no more than signs in it."""
    # Blurred as where bars are looked for, or noise in dark bars would pass for light here alone.
    return float((cv2.blur(brightest(strip), (3, 3)) > _BLACK).mean()) <= _LEAST_SHARE


def _sharpened(lit: NDArray[np.bool_], first: int, end: int) -> tuple[int, int]:
    """First and one past the last column, moved inwards past those that are mostly unlit."""
    share = lit.mean(axis=0)
    behind = min(_EDGE_PX, (end - first) // 2)
    while behind and share[first] < share[first : first + behind + 1].max() / 2:
        first, behind = first + 1, behind - 1
    behind = min(_EDGE_PX, (end - first) // 2)
    while behind and share[end - 1] < share[end - behind - 1 : end].max() / 2:
        end, behind = end - 1, behind - 1
    return first, end


def _trim(before: int, after: int, inside: NDArray[np.bool_], *, upright: bool) -> int | UnsureArea:
    """Width of the bars before and after the lit part along one axis, 0 for none.

    inside: the lit part, its columns along that axis.   upright: whether that is up and down.
    """
    if min(before, after) <= 1:
        return 0
    if abs(before - after) > _UNLIKE_PX:
        return UnsureArea(
            _(
                "it is dark top and bottom for {before} and {after} px, and bars are alike",
                before=before,
                after=after,
            )
            if upright
            else _(
                "it is dark left and right for {before} and {after} px, and bars are alike",
                before=before,
                after=after,
            )
        )
    edges = (inside[:, :_EDGE_PX], inside[:, -_EDGE_PX:])
    if min(float(edge.any(axis=1).mean()) for edge in edges) < _EDGE_LIT:
        return UnsureArea(
            _("it is dark top and bottom without a straight border")
            if upright
            else _("it is dark left and right without a straight border")
        )
    return min(before, after)


def _even(level: FloatArray, area: PictureArea) -> bool:
    """Whether the bars are of one level but for a few signs in them; `level`: mean over time."""
    right, bottom = area.left_px + area.width_px, area.top_px + area.height_px
    height, width = level.shape
    bars = (
        level[:, : max(area.left_px - _EDGE_PX, 0)],
        level[:, min(right + _EDGE_PX, width) :],
        level[: max(area.top_px - _EDGE_PX, 0)],
        level[min(bottom + _EDGE_PX, height) :],
    )
    for bar in bars:
        if bar.size:
            usual = bar[bar <= np.percentile(bar, 90)]
            if float(usual.std()) > _UNEVEN or float(usual.max()) > _BLACK:
                return False
    return True


def _usual_shape(area: PictureArea) -> bool:
    long, short = max(area.width_px, area.height_px), min(area.width_px, area.height_px)
    tolerance = _SHAPE_TOLERANCE + 2 / short
    return any(abs(long / short / shape - 1) <= tolerance for shape in _SHAPES)
