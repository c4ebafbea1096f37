"""A part of a picture that blur is measured in, and the same reduced."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.review.blur.compression import Compression
from assist.review.blur.luminance import GrayImage

MOST_EDGES = 260
_LARGEST_SCALE = 32
_LEAST_SIDE_PX = 24


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredRegion:
    """What is measured, in which light, and what is known of it.

    image: luminance in linear light.   within: (height, width) where edges may lie; everywhere if
    None; best with a margin round it.   most: how many edges to look at; fewer are quicker and less
    certain.   compression: what the image went through as it is, not resized, not turned.
    floor: (height, width) standard deviation of the noise, where edges that are noise must be told
    apart.
    """

    image: GrayImage
    within: NDArray[np.bool_] | None = None
    most: int = MOST_EDGES
    compression: Compression | None = None
    floor: GrayImage | None = None

    def levels(self) -> Iterator[tuple[int, MeasuredRegion]]:
        """At full size, half, a quarter and so on, each with its scale."""
        scale, image, within = 1, self.image, self.within
        yield scale, self
        while True:
            half = (image.shape[1] // 2, image.shape[0] // 2)
            if min(half) < _LEAST_SIDE_PX or scale == _LARGEST_SCALE:
                return
            image = _averaged(image, half)
            if within is not None:
                shrunk = cv2.resize(within.astype(np.uint8), half, interpolation=cv2.INTER_NEAREST)
                within = np.asarray(shrunk, dtype=np.uint8) > 0
            scale *= 2
            yield (
                scale,
                MeasuredRegion(image, within, self.most, None, _noise_left(self.floor, image)),
            )

    def reduced(self, scale: int) -> MeasuredRegion | None:
        """Smaller by that power of two; None where too little would be left."""
        return next((level for at, level in self.levels() if at == scale), None)


def _averaged(image: GrayImage, size: tuple[int, int]) -> GrayImage:
    return np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _noise_left(floor: GrayImage | None, reduced: GrayImage) -> GrayImage | None:
    """The noise at each place of a picture that was reduced by averaging."""
    if floor is None:
        return None
    scale = floor.shape[1] / reduced.shape[1]
    return np.asarray(
        _averaged(floor, (reduced.shape[1], reduced.shape[0])) / scale, dtype=np.float32
    )
