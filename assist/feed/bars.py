"""The picture within a feed's bars, whatever is in them: found, excluded, or in doubt."""

from __future__ import annotations

from collections.abc import Sequence

from assist.base.images import ColourImage
from assist.base.words import _
from assist.feed.black_bars import Level, PictureArea, UnsureArea, brightest, find_in_levels
from assist.feed.signed_bars import Framed, find_framed, in_full, small

ALIKE_PX = 4
"""Two ways of looking find the same bars within so many pixels."""


def find_picture(pictures: Sequence[ColourImage]) -> PictureArea | UnsureArea:
    """The picture between bars that are there in every one of some pictures of one size."""
    framed = find_framed([small(picture) for picture in pictures])
    found = find_in_levels([brightest(picture) for picture in pictures])
    return of_both(found, framed, small(pictures[0]), pictures[0])


def of_both(
    found: PictureArea | UnsureArea,
    framed: Framed | None,
    small_picture: ColourImage | Level,
    picture: ColourImage | Level,
) -> PictureArea | UnsureArea:
    """What is to be believed where black and empty bars, and others, have been looked for.

    The two pictures give the sizes in which `framed` and `found` are.
    """
    height, width = picture.shape[:2]
    if framed is None:
        return found
    area = in_full(framed.area, _size_px(small_picture), (width, height))
    empty = isinstance(found, PictureArea) and (found.width_px, found.height_px) != (width, height)
    if empty and isinstance(found, PictureArea) and alike(found, area):
        return found  # it is found to the pixel
    if framed.sure:
        return area
    return UnsureArea(
        _(
            "there seem to be bars with signs, a colour or a blurred picture in them around a "
            "picture of {width}x{height}",
            width=area.width_px,
            height=area.height_px,
        ),
        area,
    )


def alike(one: PictureArea, other: PictureArea) -> bool:
    """Whether both are the same picture, as well as it can be told."""
    pairs = zip(one.box_px, other.box_px, strict=True)
    return all(abs(a - b) <= ALIKE_PX for a, b in pairs)


def _size_px(picture: ColourImage | Level) -> tuple[int, int]:
    return picture.shape[1], picture.shape[0]
