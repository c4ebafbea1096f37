"""When the pose network may leave pictures of a camera out, to spare the battery.

While nobody is in view, or somebody stands still and has been told the same for a while, ten looks
a second tell as much as thirty. Every picture is still compared with that of a tenth of a second
ago, which costs a hundredth of a look: whoever begins to move is looked at in every picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage

LOOK_EVERY_S = 0.1
"""Between two looks at rest."""
AWAKE_S = 0.4
"""How long a movement keeps every picture looked at, at the least."""
_EARLY_S = 0.005
_FINE_WIDTH_PX = 320
_BLOCK = 8
"""Of the small picture, which is compared in blocks of so many pixels."""
_MOVED = 2.5
"""How many times as much as the picture's usual block one must change for a movement: noise and a
lamp's flicker change all blocks alike."""
_LEAST_MOVED = 12.0
"""And by how many levels of 255 in a picture of usual contrast: whole pictures in a compressed
video change blocks by up to 9 though nothing moves (the shipped clip); a step passes 12 after a
tenth of a second."""
_USUAL_CONTRAST = 40.0
_LEAST_CONTRAST = 15.0
_MOVED_BLOCKS = 2
_AROUND = 0.1
"""How far round the body movement is looked for, over the box's own size."""

GreyImage = NDArray[np.uint8]
FloatImage = NDArray[np.floating[Any]]

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in pixels."""


@dataclass(frozen=True, slots=True)
class Settled:
    """That there is time to rest.

    within_px: where a movement ends the rest; None where only somebody's coming can, as with nobody
    in view.
    """

    within_px: Box | None = None


class Rest:
    """Decides picture by picture; `settled` is set by whoever thinks about what was seen.

    The two may be on threads of their own.
    """

    def __init__(self) -> None:
        self.settled: Settled | None = None
        """None: every picture is wanted."""
        self._awake_until_s = -math.inf
        self._then: GreyImage | None = None
        self._then_s = -math.inf

    def wants(self, picture: ColourImage, time_s: float) -> bool:
        """Whether this picture is to be looked at; pictures come in the order of their times."""
        settled = self.settled
        if settled is None:
            self._then = None  # the first picture at rest begins the comparison
            return True
        now = _small(picture)
        within_px = settled.within_px
        if within_px is not None and self._moved(now, picture, within_px):
            self._awake_until_s = time_s + AWAKE_S
        due = self._then is None or time_s - self._then_s >= LOOK_EVERY_S - _EARLY_S
        if due:  # awake, too: a tenth of a second's movement is what is looked for
            self._then, self._then_s = now, time_s
        return due or time_s < self._awake_until_s

    def _moved(self, now: GreyImage, picture: ColourImage, within_px: Box) -> bool:
        """Whether something has moved in the box since the picture that is compared with."""
        if self._then is None or self._then.shape != now.shape:
            return False
        changed = _blocks(np.asarray(cv2.absdiff(now, self._then), np.uint8))
        usual = float(np.median(changed))
        part = _part(changed, within_px, picture.shape[1], picture.shape[0])
        contrast = min(max(float(np.std(now)), _LEAST_CONTRAST), _USUAL_CONTRAST)
        limit = max(_LEAST_MOVED * contrast / _USUAL_CONTRAST, _MOVED * usual)
        return int(np.count_nonzero(part > limit)) >= _MOVED_BLOCKS


def _small(picture: ColourImage) -> GreyImage:
    """The green of every so-manieth pixel; brightness enough for comparing."""
    step = max(1, round(picture.shape[1] / _FINE_WIDTH_PX))
    return np.ascontiguousarray(picture[::step, ::step, 1])


def _blocks(fine: GreyImage) -> FloatImage:
    """Means of the blocks of a small picture."""
    height, width = fine.shape
    size = (max(1, width // _BLOCK), max(1, height // _BLOCK))
    means = cv2.resize(fine.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    return np.asarray(means, np.float32)


def _part(blocks: FloatImage, box: Box, width: int, height: int) -> FloatImage:
    """Those blocks that lie in a box of the whole picture, and a little round it."""
    rows, columns = blocks.shape
    left, top, right, bottom = box
    across, down = _AROUND * (right - left), _AROUND * (bottom - top)
    x0 = max(0, math.floor((left - across) / width * columns))
    x1 = min(columns, math.ceil((right + across) / width * columns))
    y0 = max(0, math.floor((top - down) / height * rows))
    y1 = min(rows, math.ceil((bottom + down) / height * rows))
    return blocks[y0:y1, x0:x1]
