"""What the sources built on OpenCV's capture share: quiet opening and turning the picture."""

from __future__ import annotations

from typing import cast

import cv2

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import _

_TURNS = {
    0: None,
    90: cv2.ROTATE_90_CLOCKWISE,
    180: cv2.ROTATE_180,
    270: cv2.ROTATE_90_COUNTERCLOCKWISE,
}


def open_capture(
    what: int | str, backend: int = cv2.CAP_ANY, parameters: tuple[int, ...] = ()
) -> cv2.VideoCapture | None:
    """An opened capture, or None."""
    try:
        capture = cv2.VideoCapture(what, backend, list(parameters))
    except cv2.error:
        return None
    if not capture.isOpened():
        capture.release()
        return None
    return capture


def check_rotation(rotation_deg: int) -> int:
    """The rotation if it is a quarter turn; UserError otherwise."""
    if rotation_deg not in _TURNS:
        raise UserError(
            _("rotation must be 0, 90, 180 or 270 degrees, not {rotation}", rotation=rotation_deg)
        )
    return rotation_deg


def turned(picture: ColourImage, rotation_deg: int) -> ColourImage:
    """The picture turned clockwise."""
    turn = _TURNS[rotation_deg]
    return picture if turn is None else cast("ColourImage", cv2.rotate(picture, turn))


def usable_rate(rate_hz: float, fallback: float) -> float:
    """A picture rate that can be true; some files and drivers say 0, nan or a million."""
    return rate_hz if 1.0 <= rate_hz <= 1000.0 else fallback
