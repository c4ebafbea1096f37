"""Where everything goes on a guidance screen of any size, in landscape or portrait orientation."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2

from assist.base.images import ColourImage
from optics.units import METRES_PER_INCH

READABLE_ARC_MINUTES = 22.0
"""Height of a character that reads with ease: the upper end of the 20 to 22 minutes of arc that
ISO 9241-303 prefers (from memory). The big word's."""
SENTENCE_ARC_MINUTES = 16.0
"""The least that ISO 9241-303 allows (from memory). Of all that moves or warns somebody."""
FACT_ARC_MINUTES = 10.0
"""Twice the height of the smallest letter that normal sight reads (common practice, no source). Of
what is good to know besides."""
LEAST_WORD, MOST_WORD = 0.2, 0.36
"""Height of the big word over the short side of a 16:9 screen: what is enough for 5 m on a 13-inch
screen, and what still leaves room for the picture."""
_WORD_STEP = 1.1
LETTER_STEP = 1.2
"""The other words come in coarse steps: with each of them everything else moves on the screen."""
_LEAST_LETTER = 0.05
USUAL_DISTANCE_M = 5.0
"""Words suit this distance until somebody has been measured."""
DEFAULT_DIAGONAL_M = 13 * METRES_PER_INCH
_LINE = 1.28
"""From line to line, over the height of capitals."""


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

    side: what to know: how far, the countdown, why.   strip: the plan view; no height where there
    is no room for it.   action: the word's panel, the lower part of which is `message`: what else
    moves or warns the person.
    word_px, line_px, small_px: height of the capitals of the big word (where its length leaves it
    so high), of the message, and of what stands at the side.
    """

    picture: Area
    side: Area
    strip: Area
    action: Area
    message: Area
    word_px: int
    line_px: int
    small_px: int

    @property
    def lines(self) -> int:
        """How many lines the message has room for."""
        return max(1, round(self.message.height / (_LINE * self.line_px)))

    @property
    def word(self) -> Area:
        """The panel without the message."""
        action = self.action
        return Area(action.x, action.y, action.width, action.height - self.message.height)


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


def letter_step(letter: float) -> float:
    """That part of the height or the next of a few larger ones, at most MOST_WORD."""
    steps = math.ceil(
        math.log(max(letter, _LEAST_LETTER) / _LEAST_LETTER) / math.log(LETTER_STEP) - 1e-9
    )
    return min(_LEAST_LETTER * LETTER_STEP**steps, MOST_WORD)


def readable_from_m(word_px: float, screen_px: tuple[int, int], diagonal_m: float) -> float:
    """Distance up to which capitals of that height read with ease; the inverse of `word_part`."""
    pitch_m = diagonal_m / math.hypot(*screen_px)
    return word_px * pitch_m / math.tan(math.radians(READABLE_ARC_MINUTES / 60))


def lay_out(
    width: int,
    height: int,
    word: float = LEAST_WORD,
    letter: float = LEAST_WORD,
    picture_aspect: float = 16 / 9,
) -> Layout:
    """The layout for a screen of that size, pixels.

    word: height of the word wanted, over the height of the screen (the short side of a 16:9 one
    when it stands upright), kept within what leaves room for the rest.
    letter: what reads with ease, in the same measure: the other words' height goes by it.
    picture_aspect: width over height of the feed's picture.
    """
    base = min(height, width * 9 / 16)
    word_px = round(base * min(max(word, LEAST_WORD), MOST_WORD))
    letter_px = base * min(letter, MOST_WORD)
    line_px = math.ceil(letter_px * SENTENCE_ARC_MINUTES / READABLE_ARC_MINUTES)
    small_px = math.ceil(letter_px * FACT_ARC_MINUTES / READABLE_ARC_MINUTES)
    fit = _Sizes(width, height, word_px, line_px, small_px)
    if width < height:
        return _upright(fit)
    return _beside(fit, picture_aspect) if picture_aspect < 1 else _across(fit, picture_aspect)


@dataclass(frozen=True, slots=True)
class _Sizes:
    width: int
    height: int
    word_px: int
    line_px: int
    small_px: int

    def lines_px(self, lines: int) -> int:
        return round(_LINE * lines * self.line_px)


def _across(fit: _Sizes, aspect: float) -> Layout:
    """A picture and a screen that are wider than high."""
    width, height = fit.width, fit.height
    word_h, strip_h = round(1.4 * fit.word_px), round(0.08 * height)
    message_h = fit.lines_px(2)
    least_top = max(round(0.2 * height), round(1.3 * fit.line_px))
    if height - word_h - message_h - strip_h < least_top:
        strip_h = 0
    if height - word_h - message_h < least_top:
        message_h = fit.lines_px(1)
    top_h = max(0, height - word_h - message_h - strip_h)
    picture_w = min(round(0.6 * width), round(top_h * aspect))
    return Layout(
        picture=Area(0, 0, picture_w, top_h),
        side=Area(picture_w, 0, width - picture_w, top_h),
        strip=Area(0, top_h, width, strip_h),
        action=Area(0, top_h + strip_h, width, word_h + message_h),
        message=Area(0, height - message_h, width, message_h),
        word_px=fit.word_px,
        line_px=fit.line_px,
        small_px=fit.small_px,
    )


def _beside(fit: _Sizes, aspect: float) -> Layout:
    """An upright picture on a screen that is wider than high: it has all the height at the left."""
    width, height = fit.width, fit.height
    picture_w = min(round(height * aspect), round(0.36 * width))
    rest = width - picture_w
    word_h, message_h, strip_h = round(1.4 * fit.word_px), fit.lines_px(2), round(0.08 * height)
    if height - word_h - message_h - strip_h < 1.3 * fit.line_px:
        strip_h = 0
    if height - word_h - message_h < 1.3 * fit.line_px:
        message_h = fit.lines_px(1)
    side_h = max(0, height - word_h - message_h - strip_h)
    return Layout(
        picture=Area(0, 0, picture_w, height),
        side=Area(picture_w, 0, rest, side_h),
        strip=Area(picture_w, side_h, rest, strip_h),
        action=Area(picture_w, side_h + strip_h, rest, word_h + message_h),
        message=Area(picture_w, height - message_h, rest, message_h),
        word_px=fit.word_px,
        line_px=fit.line_px,
        small_px=fit.small_px,
    )


def _upright(fit: _Sizes) -> Layout:
    """A screen that stands upright: the sign stands above the word, which has the whole width."""
    width, height = fit.width, fit.height
    word_h = max(round(2.5 * fit.word_px), round(0.2 * height))
    strip_h, side_h = round(0.06 * height), round(1.5 * fit.line_px)
    message_h = fit.lines_px(3)
    picture_h = height - word_h - strip_h - side_h - message_h
    if picture_h < 0.2 * height:
        message_h -= fit.lines_px(3) - fit.lines_px(2)
        picture_h, strip_h = height - word_h - side_h - message_h, 0
    top = max(0, picture_h)
    return Layout(
        picture=Area(0, 0, width, top),
        side=Area(0, top, width, side_h),
        strip=Area(0, top + side_h, width, strip_h),
        action=Area(0, top + side_h + strip_h, width, word_h + message_h),
        message=Area(0, height - message_h, width, message_h),
        word_px=fit.word_px,
        line_px=fit.line_px,
        small_px=fit.small_px,
    )
