"""What a JPEG's compression did to a picture, as far as the file tells.

A JPEG keeps each square of eight by eight pixels as the coefficients of a cosine transform, rounded
to steps that the file carries (ITU-T T.81, annex A and B). Fine detail has the largest steps: what
is less than half a step is lost, and an edge comes back wider than it was. The steps and where the
squares lie say by how much, and an edge of known width can be sent the same way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from assist.review.blur import normal

SIDE = 8
"""Pixels along a side of a square that is transformed by itself."""
_MIDDLE = 128.0
_STEPS_TOLD, _SURE = 3, 4.0
_QUARTER_TURNED = (5, 6, 7, 8)
_LEFT_TURNED = (2, 3, 6, 7)
_TOP_TURNED = (3, 4, 7, 8)
"""EXIF orientations whose picture has columns for rows, and whose left or top side was another.
Source: EXIF, CIPA DC-008 (from memory)."""

Array = NDArray[np.float64]


def _cosines() -> Array:
    """(8, 8) the orthonormal cosine transform: frequency by place."""
    place = np.arange(SIDE)
    rows = np.cos(np.pi * (2 * place[None] + 1) * place[:, None] / (2 * SIDE)) / 2
    rows[0] /= np.sqrt(2)
    return np.asarray(rows)


_COSINES = _cosines()


@dataclass(frozen=True, slots=True, eq=False)
class Compression:
    """How the luma of a picture was rounded.

    steps: (8, 8) steps of the coefficients, vertical frequency by horizontal, in 8-bit values.
    left, top: a pixel, in the picture's own coordinates, at which a square begins.
    """

    steps: Array
    left: int = 0
    top: int = 0

    def of_part(self, left: int, top: int) -> Compression:
        """The same for the part of the picture that begins at this pixel."""
        return Compression(self.steps, (self.left - left) % SIDE, (self.top - top) % SIDE)

    def sent(self, luma: Array, noise: float) -> Array:
        """(n, h, w) patches in 8-bit values, each beginning with a square, as they come back.

        noise: standard deviation of what else is in the patches, which makes the rounding fall
        either way; what comes back is the average over it.
        """
        n, height, width = luma.shape
        squares = (luma - _MIDDLE).reshape(n, height // SIDE, SIDE, width // SIDE, SIDE)
        squares = np.swapaxes(squares, 2, 3)
        found = _COSINES @ squares @ _COSINES.T / self.steps
        back = _COSINES.T @ (_rounded(found, noise / self.steps) * self.steps) @ _COSINES
        return np.asarray(np.swapaxes(back, 2, 3).reshape(n, height, width) + _MIDDLE)


def of_file(image: Image.Image) -> Compression | None:
    """How an opened JPEG was compressed, for the picture as it is turned for viewing.

    None for other kinds of files, and for a JPEG whose colours are not kept as luma and chroma.
    """
    tables = getattr(image, "quantization", None)
    if not isinstance(tables, dict) or image.mode not in ("L", "RGB"):
        return None
    if image.mode == "RGB" and image.info.get("adobe_transform") == 0:
        return None
    table = tables.get(0)
    if table is None or len(table) != SIDE * SIDE or min(table) < 1:
        return None
    try:
        orientation = int(image.getexif().get(ExifTags.Base.Orientation, 1))
    except Exception:  # a broken block of tags; the decoder does not turn the picture either
        orientation = 1
    steps = np.array(table, np.float64).reshape(SIDE, SIDE)
    return turned(steps, orientation, *image.size)


def turned(steps: Array, orientation: int, width: int, height: int) -> Compression:
    """Steps of a stored picture of that size, for the picture turned by its EXIF orientation."""
    across, down = width % SIDE, height % SIDE
    quarter = orientation in _QUARTER_TURNED
    # Of a side that is turned round, the first square is what was the last, not always whole.
    left = (down if quarter else across) if orientation in _LEFT_TURNED else 0
    top = (across if quarter else down) if orientation in _TOP_TURNED else 0
    return Compression(steps.T if quarter else steps, left, top)


def _rounded(value: Array, noise: Array) -> Array:
    """The average of the rounded value with normal noise added; all in steps."""
    spread = np.broadcast_to(np.maximum(noise, 1e-3), value.shape)
    total = np.where(spread > 1, value, 0.0)
    # Most coefficients of an edge are surely nothing.
    told = np.nonzero((spread <= 1) & (abs(value) > 0.5 - _SURE * spread))
    near, own = value[told], spread[told]
    whole = np.rint(near)
    part = near - whole
    for k in range(_STEPS_TOLD):
        far = np.flatnonzero(own > k / _SURE)  # others surely fall no farther
        up, down = (part[far] - 0.5 - k) / own[far], (-part[far] - 0.5 - k) / own[far]
        whole[far] += normal.cdf(up) - normal.cdf(down)
    total[told] = whole
    return total
