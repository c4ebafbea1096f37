"""How noisy a picture is."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.review.edges import GrayImage

_TIMES = 2.5


def of(image: GrayImage) -> float:
    """Standard deviation of the noise, from differences that cancel planes and most edges.

    Immerkaer 1996, "Fast noise variance estimation", Computer Vision and Image Understanding 64;
    the median in place of the mean lets texture count for less.
    """
    kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
    # One in four tells the median as well, and finding it takes most of the time.
    response = cv2.filter2D(image, cv2.CV_32F, kernel)[::2, ::2]
    return float(np.median(np.abs(response))) / 0.6745 / 6.0


def least_step(image: GrayImage, within: NDArray[np.bool_] | None, part: float) -> float:
    """How high a step must be to stand out from the noise and to count among the others.

    part: of the range of brightness, where `within` allows, that counts.
    """
    smooth = cv2.GaussianBlur(image, (0, 0), 1.5)
    inside = smooth if within is None else smooth[within]
    dark, bright = np.quantile(inside, [0.03, 0.97])
    return max(part * float(bright - dark), _TIMES * of(image))
