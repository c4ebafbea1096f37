"""Text as ready-made picture patches: drawn once by a proper font, then only copied.

What is told changes from picture to picture mostly in its numbers. So a new line is put together
from digits and what stands between them, drawn before; that takes a quarter of the time.
"""

from __future__ import annotations

import re
import unicodedata
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Generic, TypeVar, cast

import cv2
import matplotlib
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from assist.base.images import ColourImage
from assist.output.screen.palette import Pair

GrayImage = NDArray[np.uint8]
Key = TypeVar("Key", bound=Hashable)
Made = TypeVar("Made")

_MOST_PATCH_BYTES = 24_000_000
"""Of patches kept: some 140 lines and all big words of a window of 1920 x 1080 pixels. With less
room than a walk's lines take, each would be let go just before it is wanted again."""
_MOST_PIECE_BYTES = 2_000_000
"""Of pieces kept: the digits of every size and what stands between them."""

_FONT = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"
_STRETCH = (
    0.86  # the face is broad; set narrower, a word of seven letters can be as high as it must
)
_SQUEEZE = 0.7
"""How much narrower still a line may be set before it has to be smaller: of letters as broad as
these each is still told from the others (looked at)."""
_CAP_OF_EM = 0.729  # height of a capital H of this face, in ems

_PIECES = re.compile(r"\d|\D+")
"""Digits of this face are of one breadth and stand by themselves; letters of a word are kerned."""
_TOGETHER = re.compile(r"(\d) (?=(?:m|cm|ft|in|s|%)\b)")
"""A figure and its unit stay on one line."""
_LEFTWARDS = ("R", "AL", "AN")
"""Classes of characters (Unicode's bidirectional ones) beside which pieces change places."""


class _Kept(Generic[Key, Made]):
    """What was made before, the longest unused let go when all together takes too much memory.

    Big words take ten times the memory of small ones: their number would be no bound.
    """

    def __init__(
        self, make: Callable[[Key], Made], size: Callable[[Made], int], most_bytes: int
    ) -> None:
        self._make = make
        self._size = size
        self._most_bytes = most_bytes
        self._bytes = 0
        self._made: OrderedDict[Key, Made] = OrderedDict()

    def has_room(self, size: int) -> bool:
        """Whether so many bytes more would be kept without letting go of others."""
        return self._bytes + size <= self._most_bytes

    def get(self, key: Key) -> Made:
        """What belongs to the key, made now unless it is there."""
        made = self._made.get(key)
        if made is not None:
            self._made.move_to_end(key)
            return made
        made = self._make(key)
        self._made[key] = made
        self._bytes += self._size(made)
        while self._bytes > self._most_bytes and len(self._made) > 1:
            self._bytes -= self._size(self._made.popitem(last=False)[1])
        return made


_NO_INK: GrayImage = np.zeros((1, 1), np.uint8)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A part of a line, drawn.

    cover: coverage (height, width) from 0 to 255, cut to the ink; nothing of it for a space.
    left, top: of the ink, pixels from the pen and from the line's upper edge.
    advance: by how much the pen moves on, pixels.
    """

    cover: GrayImage
    left: int
    top: int
    advance: float


@lru_cache(maxsize=24)
def _font(em_px: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(_FONT), em_px)


def _draw_piece(key: tuple[str, int]) -> _Piece:
    words, em_px = key
    font = _font(em_px)
    left, top, right, bottom = (round(edge) for edge in font.getbbox(words))
    advance = font.getlength(words)
    if words.isspace():
        return _Piece(np.empty((0, 0), np.uint8), 0, 0, advance)
    image = Image.new("L", (max(1, right - left), max(1, bottom - top)))
    ImageDraw.Draw(image).text((-left, -top), words, fill=255, font=font)
    return _Piece(np.asarray(image), left, top, advance)


_pieces = _Kept(_draw_piece, lambda piece: piece.cover.nbytes, _MOST_PIECE_BYTES)


@lru_cache(maxsize=64)
def _ramp(pair: Pair) -> ColourImage:
    """Colours from the ground to the text, (256, 1, 3), by coverage."""
    cover = np.arange(256)[:, None, None] / 255.0
    blended = np.array(pair.ground) * (1 - cover) + np.array(pair.text) * cover
    return np.asarray(blended.round(), dtype=np.uint8)


def _line(text: str, em_px: int) -> GrayImage:
    """Coverage (height, width) of the whole text, cut to its ink."""
    parts = _PIECES.findall(text)
    if len(parts) == 1 or any(unicodedata.bidirectional(letter) in _LEFTWARDS for letter in text):
        return _draw_piece((text, em_px)).cover if text.strip() else _NO_INK
    placed: list[tuple[int, _Piece]] = []
    pen = 0.0
    for part in parts:
        piece = _pieces.get((part, em_px))
        if piece.cover.size:
            placed.append((round(pen) + piece.left, piece))
        pen += piece.advance
    if not placed:
        return _NO_INK
    left = min(x for x, _ in placed)
    right = max(x + piece.cover.shape[1] for x, piece in placed)
    top = min(piece.top for _, piece in placed)
    bottom = max(piece.top + piece.cover.shape[0] for _, piece in placed)
    cover = np.zeros((bottom - top, right - left), np.uint8)
    for x, piece in placed:
        height, width = piece.cover.shape
        room = cover[piece.top - top :, x - left :][:height, :width]
        np.maximum(room, piece.cover, out=room)  # a letter may reach over its neighbour's edge
    return cover


def _mask(text: str, cap_px: int, width_px: int) -> GrayImage:
    """Coverage (height, width) from 0 to 255 of the text, cut to its ink, no wider than allowed."""
    cover = _line(text, max(4, round(cap_px / _CAP_OF_EM)))
    height, width = cover.shape
    narrow = max(1, round(width * _STRETCH))
    squeezed = min(narrow, max(width_px, round(narrow * _SQUEEZE)))
    scale = min(1.0, width_px / squeezed)
    size = (max(1, int(squeezed * scale)), max(1, int(height * scale)))
    return cv2.resize(cover, size, interpolation=cv2.INTER_AREA)  # type: ignore[return-value]


def _colour_patch(key: tuple[str, int, int, Pair]) -> ColourImage:
    text, cap_px, width_px, pair = key
    cover = _mask(text, cap_px, width_px)
    return cast("ColourImage", cv2.LUT(cv2.merge((cover, cover, cover)), _ramp(pair)))


_patches = _Kept(_colour_patch, lambda patch: patch.nbytes, _MOST_PATCH_BYTES)


@lru_cache(maxsize=512)
def fitted(words: str, cap_px: int, width_px: int, most: int) -> tuple[str, ...] | None:
    """The words in as few lines as have room, each as high as wanted; None where they have not.

    most: how many lines there may be.
    """
    font = _font(max(4, round(cap_px / _CAP_OF_EM)))

    def breadth(part: str, narrow: float) -> float:
        return font.getlength(part) * _STRETCH * narrow

    for count in range(1, most + 1):
        for narrow in (1.0, _SQUEEZE):
            lines: list[str] = []
            rest = _TOGETHER.sub("\\1\u00a0", words).split(" ")
            while rest and len(lines) < count:
                take = len(rest)
                while take > 1 and breadth(" ".join(rest[:take]), narrow) > width_px:
                    take -= 1
                lines.append(" ".join(rest[:take]))
                rest = rest[take:]
            if not rest and all(breadth(line, narrow) <= width_px for line in lines):
                return tuple(lines)
    return None


def has_room(height_px: int, width_px: int) -> bool:
    """Whether a patch of that size, drawn ahead, would be kept beside all that is in use."""
    return _patches.has_room(3 * height_px * width_px)


def patch(text: str, cap_px: int, width_px: int, pair: Pair) -> ColourImage:
    """The text on its ground, (height, width, 3), with capitals `cap_px` high where it fits."""
    return _patches.get((text, cap_px, width_px, pair))
