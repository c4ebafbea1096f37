"""The number of one of several people, on a disc: over their head, and on the strip."""

from __future__ import annotations

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.output.screen import text
from assist.output.screen.palette import Pair
from assist.pose import Pose
from assist.pose.landmarks import Landmark

_HEAD = [Landmark.NOSE, Landmark.LEFT_EAR, Landmark.RIGHT_EAR]
_CROWN_OVER_NOSE = 0.45
"""Height of the crown above the nose, in heights of the trunk."""

_FAR_PX = 2**20


def numbered(
    view: ColourImage, middle: tuple[int, int], radius: int, number: str, pair: Pair
) -> None:
    """Draw a disc with a number on it, "" for none, cut off by the edges of the view."""
    x, y = middle
    for colour, more in ((pair.ground, max(2, radius // 6)), (pair.text, 0)):
        cv2.circle(view, middle, radius + more, colour, -1, cv2.LINE_AA)
    if not number:
        return
    turned = Pair(pair.ground, pair.text)
    made = text.patch(number, max(5, round(1.05 * radius)), 4 * radius, turned)
    height, width = made.shape[:2]
    _put(view, made, x - width // 2, y - height // 2)


def beside(view: ColourImage, middle: tuple[int, int], radius: int, words: str, pair: Pair) -> None:
    """Put words to the right of a disc, on a ground of their own; to its left at the edge."""
    made = text.patch(words, max(5, round(0.7 * radius)), 8 * radius, pair)
    height, width = made.shape[:2]
    edge = max(2, radius // 4)
    x, y = middle
    left = x + radius + 2 * edge
    if left + width + edge > view.shape[1]:
        left = x - radius - 2 * edge - width
    top = y - height // 2
    ground = np.empty((height + 2 * edge, width + 2 * edge, 3), np.uint8)
    ground[:] = pair.ground
    ground[edge : edge + height, edge : edge + width] = made
    _put(view, ground, left - edge, top - edge)


def _put(view: ColourImage, made: ColourImage, left: int, top: int) -> None:
    """Copy an image into a view, cut off by its edges."""
    height, width = made.shape[:2]
    cut_left, cut_top = max(0, -left), max(0, -top)
    room = view[max(0, top) : max(0, top + height), max(0, left) : max(0, left + width)]
    room[:] = made[cut_top : cut_top + room.shape[0], cut_left : cut_left + room.shape[1]]


def over_head(pose: Pose, scale: float) -> tuple[int, int]:
    """Where the crown of the head is in the picture, shown that much larger."""
    head = pose.image_px[_HEAD].mean(axis=0)
    shoulders = pose.middle_px(Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    hips = pose.middle_px(Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
    up = _CROWN_OVER_NOSE * abs(float(hips[1] - shoulders[1]))
    x, y = np.clip((head - (0.0, up)) * scale, -_FAR_PX, _FAR_PX)
    return int(x), int(y)
