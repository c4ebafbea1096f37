"""Where everything goes on a guidance screen of any size, in landscape or portrait orientation."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in pixels."""

    x: int
    y: int
    width: int
    height: int

    @property
    def rows(self) -> slice:
        """Its rows of a picture."""
        return slice(self.y, self.y + self.height)

    @property
    def columns(self) -> slice:
        """Its columns of a picture."""
        return slice(self.x, self.x + self.width)


@dataclass(frozen=True, slots=True)
class Layout:
    """The picture with nothing over it, and round it what must be read from afar.

    The action panel takes 0.29 of a landscape screen's height, so that its word can be a fifth of
    it high: on a 13-inch screen of 16:9 (162 mm high) that is 32 mm, 22 minutes of arc from 5 m,
    the upper end of what ISO 9241-303 prefers (from memory).
    """

    picture: Box
    side: Box
    strip: Box
    action: Box


WORD_OF_LANDSCAPE_HEIGHT = 0.2


def lay_out(width: int, height: int) -> Layout:
    """The layout for a screen of that size, pixels."""
    if width >= height:
        action_h, strip_h = round(0.29 * height), round(0.11 * height)
        top_h = height - action_h - strip_h
        picture_w = round(0.6 * width)
        return Layout(
            picture=Box(0, 0, picture_w, top_h),
            side=Box(picture_w, 0, width - picture_w, top_h),
            strip=Box(0, top_h, width, strip_h),
            action=Box(0, top_h + strip_h, width, action_h),
        )
    action_h, strip_h, side_h = round(0.2 * height), round(0.08 * height), round(0.2 * height)
    picture_h = height - action_h - strip_h - side_h
    return Layout(
        picture=Box(0, 0, width, picture_h),
        side=Box(0, picture_h, width, side_h),
        strip=Box(0, picture_h + side_h, width, strip_h),
        action=Box(0, picture_h + side_h + strip_h, width, action_h),
    )
