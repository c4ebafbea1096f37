"""Text as ready-made picture patches: drawn once by a proper font, then only copied."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from assist.overlay.palette import Pair
from assist.pose import ColourImage
from optics.checks import FloatArray

_FONT = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"
_STRETCH = (
    0.86  # the face is broad; set narrower, a word of seven letters can be as high as it must
)
_CAP_OF_EM = 0.729  # height of a capital H of this face, in ems


@lru_cache(maxsize=64)
def _font(em_px: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(_FONT), em_px)


@lru_cache(maxsize=512)
def _mask(text: str, cap_px: int, width_px: int) -> FloatArray:
    """Coverage (height, width) from 0 to 1 of the text, cut to its ink, no wider than allowed."""
    font = _font(max(4, round(cap_px / _CAP_OF_EM)))
    left, top, right, bottom = font.getbbox(text)
    width, height = max(1, round(right - left)), max(1, round(bottom - top))
    image = Image.new("L", (width, height))
    ImageDraw.Draw(image).text((-left, -top), text, fill=255, font=font)
    narrow = max(1, round(width * _STRETCH))
    scale = min(1.0, width_px / narrow)
    size = (max(1, int(narrow * scale)), max(1, int(height * (scale if scale < 1 else 1))))
    image = image.resize(size, Image.Resampling.LANCZOS)
    return np.asarray(image, dtype=np.float64) / 255.0


@lru_cache(maxsize=512)
def patch(text: str, cap_px: int, width_px: int, pair: Pair) -> ColourImage:
    """The text on its ground, (height, width, 3), with capitals `cap_px` high where it fits."""
    cover = _mask(text, cap_px, width_px)[..., None]
    blended = np.array(pair.ground) * (1 - cover) + np.array(pair.text) * cover
    return np.asarray(blended.round(), dtype=np.uint8)
