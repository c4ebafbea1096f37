"""How noisy a picture is."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.review.blur.luminance import GrayImage
from assist.review.blur.region import MeasuredRegion

_TIMES = 2.5
_BLOCK_PX = 16
_CANCELS = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)


def of(image: GrayImage) -> float:
    """Standard deviation of the noise, from differences that cancel planes and most edges.

    Immerkaer 1996, "Fast noise variance estimation", Computer Vision and Image Understanding 64;
    the median in place of the mean lets texture count for less.
    """
    # One in four tells the median as well, and finding it takes most of the time.
    response = cv2.filter2D(image, cv2.CV_32F, _CANCELS)[::2, ::2]
    return float(np.median(np.abs(response))) / 0.6745 / 6.0


def span(region: MeasuredRegion) -> float:
    """The range of brightness in a region, without its extremes."""
    smooth = cv2.GaussianBlur(region.image, (0, 0), 1.5)
    inside = smooth if region.within is None else smooth[region.within]
    dark, bright = np.quantile(inside, [0.03, 0.97])
    return float(bright - dark)


def least_step(region: MeasuredRegion, part: float) -> float:
    """How high a step must be to stand out from the noise and to count among the others.

    part: of the region's range of brightness, that counts.
    """
    return max(part * span(region), _TIMES * of(region.image))


def local(image: GrayImage) -> GrayImage:
    """(height, width) standard deviation of the noise round each place, by blocks."""
    height, width = image.shape
    side = min(_BLOCK_PX, height, width)
    rows, columns = height // side, width // side
    response = abs(cv2.filter2D(image, cv2.CV_32F, _CANCELS))[: rows * side, : columns * side]
    blocks = response.reshape(rows, side, columns, side).swapaxes(1, 2).reshape(rows, columns, -1)
    middle, upper = blocks.shape[-1] // 2, 4 * blocks.shape[-1] // 5
    ordered = np.partition(blocks, (middle, upper), axis=-1)
    # Noise that comes in specks shows in the upper part first.
    coarse = np.maximum(ordered[..., middle] / 0.6745, ordered[..., upper] / 1.2816) / 6.0
    calm = cv2.medianBlur(np.asarray(coarse, dtype=np.float32), 3)
    return np.asarray(
        cv2.resize(calm, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32
    )


def stands_out(
    height: NDArray[np.float64], place_px: NDArray[np.float64], floor: GrayImage
) -> NDArray[np.bool_]:
    """Which steps are high enough over the noise at their places."""
    at = place_px.astype(int)
    return np.asarray(height >= _TIMES * floor[at[:, 1], at[:, 0]])
