"""Where everything goes on a guidance screen of any size, in landscape or portrait orientation."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2

from assist.base.images import ColourImage
from optics.units import METRES_PER_INCH

READABLE_ARC_MINUTES = 22.0
"""Height of a character that reads with ease: the upper end of the 20 to 22 minutes of arc that
ISO 9241-303 prefers (from memory)."""
LEAST_WORD, MOST_WORD = 0.2, 0.36
"""Height of the big word over the short side of a 16:9 screen: what is enough for 5 m on a 13-inch
screen, and what still leaves room for the picture."""
_WORD_STEP = 1.1
DEFAULT_DIAGONAL_M = 13 * METRES_PER_INCH


@dataclass(frozen=True, slots=True)
class Area:
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

    def fill(self, canvas: ColourImage, colour: tuple[int, int, int]) -> None:
        """Paint it in one colour (ten times as fast as by assignment)."""
        last = (self.x + self.width - 1, self.y + self.height - 1)
        if self.width > 0 and self.height > 0:
            cv2.rectangle(canvas, (self.x, self.y), last, colour, -1)


@dataclass(frozen=True, slots=True)
class Layout:
    """The picture with nothing over it, and round it what must be read from afar.

    word_px: height of the big word's capitals, where its length leaves them so high.
    """

    picture: Area
    side: Area
    strip: Area
    action: Area
    word_px: int


def word_part(diagonal_m: float, aspect: float, distance_m: float) -> float:
    """Height of the word that reads with ease from a distance, over the screen's height.

    diagonal_m: of the screen.   aspect: its width over its height.
    distance_m: from eye to screen.
    """
    height_m = diagonal_m / math.hypot(1.0, aspect)
    return distance_m * math.tan(math.radians(READABLE_ARC_MINUTES / 60)) / height_m


def word_step(word: float) -> float:
    """That part of the height or the next of a few larger ones, within LEAST_WORD and MOST_WORD.

    With few heights there are few words to draw anew as a person walks.
    """
    steps = math.ceil(math.log(max(word, LEAST_WORD) / LEAST_WORD) / math.log(_WORD_STEP) - 1e-9)
    return min(LEAST_WORD * _WORD_STEP**steps, MOST_WORD)


def readable_from_m(word_px: float, screen_px: tuple[int, int], diagonal_m: float) -> float:
    """Distance up to which capitals of that height read with ease; the inverse of `word_part`."""
    pitch_m = diagonal_m / math.hypot(*screen_px)
    return word_px * pitch_m / math.tan(math.radians(READABLE_ARC_MINUTES / 60))


def lay_out(width: int, height: int, word: float = LEAST_WORD) -> Layout:
    """The layout for a screen of that size, pixels.

    word: height of the word wanted, over the height of the screen (the short side of a 16:9 one
    when it stands upright), kept within what leaves room for the rest.
    """
    base = min(height, width * 9 / 16)
    word_px = round(base * min(max(word, LEAST_WORD), MOST_WORD))
    action_h = round(1.45 * word_px)
    if width >= height:
        strip_h = round(0.11 * height)
        top_h = height - action_h - strip_h
        picture_w = round(0.6 * width)
        return Layout(
            picture=Area(0, 0, picture_w, top_h),
            side=Area(picture_w, 0, width - picture_w, top_h),
            strip=Area(0, top_h, width, strip_h),
            action=Area(0, top_h + strip_h, width, action_h),
            word_px=word_px,
        )
    # Upright, the sign stands above the word, which has the whole width to itself.
    action_h = max(round(2.6 * word_px), round(0.2 * height))
    strip_h, side_h = round(0.08 * height), round(0.28 * height)
    picture_h = height - action_h - strip_h - side_h
    return Layout(
        picture=Area(0, 0, width, picture_h),
        side=Area(0, picture_h, width, side_h),
        strip=Area(0, picture_h + side_h, width, strip_h),
        action=Area(0, picture_h + side_h + strip_h, width, action_h),
        word_px=word_px,
    )
