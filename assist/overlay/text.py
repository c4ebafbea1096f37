"""Text as ready-made picture patches: drawn once by a proper font, then only copied."""

from __future__ import annotations

from collections import OrderedDict
from functools import lru_cache
from pathlib import Path
from typing import cast

import cv2
import matplotlib
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from assist.overlay.palette import Pair
from assist.pose import ColourImage

GrayImage = NDArray[np.uint8]
_MOST_BYTES = 6_000_000
"""Of patches kept: a hundred lines, or a dozen of the biggest words."""

_FONT = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"
_STRETCH = (
    0.86  # the face is broad; set narrower, a word of seven letters can be as high as it must
)
_CAP_OF_EM = 0.729  # height of a capital H of this face, in ems


@lru_cache(maxsize=24)
def _font(em_px: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(_FONT), em_px)


@lru_cache(maxsize=64)
def _ramp(pair: Pair) -> ColourImage:
    """Colours from the ground to the text, (256, 1, 3), by coverage."""
    cover = np.arange(256)[:, None, None] / 255.0
    blended = np.array(pair.ground) * (1 - cover) + np.array(pair.text) * cover
    return np.asarray(blended.round(), dtype=np.uint8)


def _mask(text: str, cap_px: int, width_px: int) -> GrayImage:
    """Coverage (height, width) from 0 to 255 of the text, cut to its ink, no wider than allowed."""
    font = _font(max(4, round(cap_px / _CAP_OF_EM)))
    left, top, right, bottom = font.getbbox(text)
    width, height = max(1, round(right - left)), max(1, round(bottom - top))
    image = Image.new("L", (width, height))
    ImageDraw.Draw(image).text((-left, -top), text, fill=255, font=font)
    narrow = max(1, round(width * _STRETCH))
    scale = min(1.0, width_px / narrow)
    size = (max(1, int(narrow * scale)), max(1, int(height * (scale if scale < 1 else 1))))
    return cv2.resize(  # type: ignore[return-value]
        np.asarray(image), size, interpolation=cv2.INTER_AREA
    )


class _Patches:
    """Ready-made patches, those used longest ago let go when all together take too much memory.

    Big words take ten times the memory of small ones: a number of patches would be no bound.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._bytes = 0
        self._made: OrderedDict[tuple[str, int, int, Pair], ColourImage] = OrderedDict()

    def get(self, key: tuple[str, int, int, Pair]) -> ColourImage:
        made = self._made.get(key)
        if made is not None:
            self._made.move_to_end(key)
            return made
        text, cap_px, width_px, pair = key
        cover = _mask(text, cap_px, width_px)
        made = cast("ColourImage", cv2.LUT(cv2.merge((cover, cover, cover)), _ramp(pair)))
        self._made[key] = made
        self._bytes += made.nbytes
        while self._bytes > self._most_bytes and len(self._made) > 1:
            self._bytes -= self._made.popitem(last=False)[1].nbytes
        return made


_patches = _Patches(_MOST_BYTES)


def patch(text: str, cap_px: int, width_px: int, pair: Pair) -> ColourImage:
    """The text on its ground, (height, width, 3), with capitals `cap_px` high where it fits."""
    return _patches.get((text, cap_px, width_px, pair))
