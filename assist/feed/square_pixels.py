"""Pixels that are not square: a picture that was squeezed on its way is spread out again.

Some recorders and capture devices deliver 1280x720 as 960x720, or television's 720x576, and say
beside it how wide a pixel is. Taken as it comes, such a picture makes everybody slimmer than they
are, and their distance wrong by a sixth.
"""

from __future__ import annotations

import math

import cv2

from assist.base.images import ColourImage

_WIDEST = 4.0
"""Beyond this, either way, what is said of a pixel cannot be true."""
_SQUARE = 0.005
_LARGE_PX = 4_000_000


def pixel_aspect(capture: cv2.VideoCapture) -> float:
    """Width over height of a pixel of the pictures that are read, 1 where nothing is said of it."""
    across, down = capture.get(cv2.CAP_PROP_SAR_NUM), capture.get(cv2.CAP_PROP_SAR_DEN)
    if not (across > 0 and down > 0 and math.isfinite(across / down)):
        return 1.0
    aspect = across / down
    if not 1 / _WIDEST <= aspect <= _WIDEST:
        return 1.0
    on_its_side = (
        capture.get(cv2.CAP_PROP_ORIENTATION_AUTO) > 0
        and capture.get(cv2.CAP_PROP_ORIENTATION_META) % 180 == 90
    )
    return 1 / aspect if on_its_side else aspect


def squared(picture: ColourImage, aspect: float) -> ColourImage:
    """The picture with square pixels: as high as it was, or as wide where it would get large."""
    if abs(aspect - 1) <= _SQUARE:
        return picture
    height, width = picture.shape[:2]
    size = (max(1, round(width * aspect)), height)
    if size[0] * height > max(_LARGE_PX, width * height):
        size = (width, max(1, round(height / aspect)))
    return cv2.resize(picture, size, interpolation=cv2.INTER_LINEAR)  # type: ignore[return-value]
