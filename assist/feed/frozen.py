"""Whether a live picture has stopped though something in it still changes.

A stopped picture need not be equal to the last bit: a clock runs in its corner, a dot blinks, and
every copy is compressed anew. What such a picture lacks is the person's own movement. Nobody stands
so still that nothing of them moves by half a pixel in a second and a half: swaying, breathing, or
the noise of a sensor in too little light change the picture all over the body.
"""

from __future__ import annotations

import cv2
import numpy as np

from assist.base.images import ColourImage
from optics.checks import FloatArray

FROZEN_AFTER_S = 1.5
_LOOKED_EVERY_S = 0.2
_BLOCK_PX = 8
"""Blocks lie on the grid of JPEG and most video: compression hardly changes their means."""
_CHANGED = 3.0
"""Levels by which a block's mean changes when it is more than compression, in a picture of usual
contrast. Quality 25 to 95 of JPEG changed none by more than 3 on the shipped clip."""
_USUAL_CONTRAST = 60.0
_LEAST_CONTRAST = 8.0
_LEAST_CHANGED = 1.0
_BANDS = 4
_MOVING_BANDS = 2
"""The body in so many bands one above the other, and in how many of them something must change: a
clock or a line of figures lies in one."""
_BLOCKS = 2
_LEAST_BLOCKS = 6
"""Of a body lower than that nothing can be said."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in pixels."""


class FrozenWatch:
    """Watches the part of a live feed's picture in which the person is."""

    def __init__(self) -> None:
        self._before: FloatArray | None = None
        self._box: tuple[int, int, int, int] = (0, 0, 0, 0)
        self._size_px: tuple[int, ...] = (0, 0)
        self._since_s = self._looked_s = 0.0
        self._frozen = False

    def forget(self) -> None:
        """Nobody is in view: begin anew with whoever comes."""
        self._before, self._frozen = None, False

    def update(self, time_s: float, picture: ColourImage, body: Box) -> bool:
        """Whether nothing of the body has changed for long; `body` is where it is now."""
        if self._before is not None and time_s - self._looked_s < _LOOKED_EVERY_S:
            return self._frozen
        self._looked_s = time_s
        if self._before is None or self._changed(picture, self._before):
            self._begin(time_s, picture, body)
        self._frozen = self._before is not None and time_s - self._since_s >= FROZEN_AFTER_S
        return self._frozen

    def _begin(self, time_s: float, picture: ColourImage, body: Box) -> None:
        """Compare with this picture from now on."""
        self._size_px = picture.shape[:2]
        height, width = picture.shape[:2]
        x0, y0 = (max(0, int(edge) // _BLOCK_PX) for edge in body[:2])
        x1 = min(width, int(body[2]) + 1) // _BLOCK_PX
        y1 = min(height, int(body[3]) + 1) // _BLOCK_PX
        self._since_s = time_s
        self._before = None
        if min(x1 - x0, y1 - y0) >= _LEAST_BLOCKS:
            self._box = (x0, y0, x1, y1)
            self._before = self._means(picture)

    def _means(self, picture: ColourImage) -> FloatArray:
        """Mean brightness of the blocks in the box."""
        x0, y0, x1, y1 = self._box
        part = picture[y0 * _BLOCK_PX : y1 * _BLOCK_PX, x0 * _BLOCK_PX : x1 * _BLOCK_PX]
        grey = cv2.cvtColor(part, cv2.COLOR_BGR2GRAY).astype(np.float32)
        return np.asarray(cv2.resize(grey, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA), float)

    def _changed(self, picture: ColourImage, before: FloatArray) -> bool:
        if picture.shape[:2] != self._size_px:
            return True
        low, high = np.percentile(before, (5, 95))
        if high - low < _LEAST_CONTRAST:
            return True  # too dark to tell: then it is not said
        least = max(_CHANGED * min((high - low) / _USUAL_CONTRAST, 1.0), _LEAST_CHANGED)
        changed = np.abs(self._means(picture) - before) > least
        bands = np.array_split(changed, _BANDS)
        return sum(int(band.sum()) >= _BLOCKS for band in bands) >= _MOVING_BANDS
