"""How much of the sensor a video output shows: black bars found, and the rest from the format."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assist.errors import UserError
from assist.pose import ColourImage
from optics import lens
from optics.camera import PinholeCamera
from optics.sensor import Sensor

_BLACK = 24
"""Brightest level of a bar: 16 is video black, and compression adds a little."""
_LEAST_LIT = 0.3
_ASPECT_TOLERANCE = 0.02


@dataclass(frozen=True, slots=True)
class PictureArea:
    """The part of a feed's picture that is not black bars, in pixels."""

    left_px: int
    top_px: int
    width_px: int
    height_px: int


def find_picture(pictures: Sequence[ColourImage]) -> PictureArea:
    """Find black bars that are there in every picture, alike on both sides.

    Raises UserError when the pictures are too dark to tell bars from scene.
    """
    brightest = np.max([p.max(axis=2) for p in pictures], axis=0)
    height, width = brightest.shape
    # A few bright pixels of noise do not make a bar a picture: look at the 95th percentile.
    columns = np.flatnonzero(np.percentile(brightest, 95, axis=0) > _BLACK)
    rows = np.flatnonzero(np.percentile(brightest, 95, axis=1) > _BLACK)
    if columns.size < _LEAST_LIT * width or rows.size < _LEAST_LIT * height:
        raise UserError("the feed is too dark to find its black bars: take the lens cap off")
    # Bars come in pairs of one size; the smaller side is the bar, the rest a dark scene.
    side = min(int(columns[0]), width - 1 - int(columns[-1]))
    end = min(int(rows[0]), height - 1 - int(rows[-1]))
    return PictureArea(side, end, width - 2 * side, height - 2 * end)


def camera_of_output(
    sensor: Sensor,
    focal_length_m: float,
    focus_distance_m: float,
    feed_width_px: int,
    feed_height_px: int,
    area: PictureArea,
    crop: float = 1.0,
) -> PinholeCamera:
    """Intrinsics of the whole feed's picture, bars included, of a camera's own video output.

    The area between the bars shows the sensor's whole width, or its whole height when the area is
    narrower than the sensor (a 4:3 picture from a 3:2 sensor), divided by `crop`. The focal length
    is that of the focused lens, v = f s / (s - f): it stands further out.
    """
    if crop < 1:
        raise UserError(f"crop must be at least 1 (the whole width), not {crop:g}")
    v = lens.image_distance_m(focal_length_m, focus_distance_m)
    aspect = area.width_px / area.height_px
    wide = max(sensor.width_m, sensor.height_m)
    tall = min(sensor.width_m, sensor.height_m)
    if aspect < 1:  # the camera is held upright
        wide, tall = tall, wide
    if aspect >= wide / tall * (1 - _ASPECT_TOLERANCE):
        pixels_per_m = area.width_px / (wide / crop)
    else:
        pixels_per_m = area.height_px / (tall / crop)
    focal_px = v * pixels_per_m
    return PinholeCamera(
        feed_width_px,
        feed_height_px,
        focal_px,
        focal_px,
        area.left_px + area.width_px / 2,
        area.top_px + area.height_px / 2,
    )
