"""What a picture file says about how it was taken.

Tags and their meaning: EXIF, CIPA DC-008 (numbers of the tags from Pillow's `ExifTags`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from PIL import ExifTags, Image

from assist.base.exposure_time import exposed_at
from optics.sensor import FORMATS, Sensor

_UNIT_MM = {2: 25.4, 3: 10.0, 4: 1.0, 5: 1e-3}
"""Millimetres per FocalPlaneResolutionUnit: inch, centimetre, millimetre, micrometre."""
_FULL_FRAME_DIAGONAL_M = FORMATS["full-frame"].diagonal_m
_FARTHEST_M = 10_000.0
_SAME_SHAPE = 0.015
"""Difference of two pictures' shapes that rounding and a raw file's margins explain."""
_BEFORE_DIGITAL = 1980
"""A clock that was never set says 1970."""
_SMALLEST_SENSOR_MM, _LARGEST_SENSOR_MM = 2.0, 120.0


@dataclass(frozen=True, slots=True)
class PictureTags:
    """What is known; None or "" where the file does not say, or says what cannot be.

    taken_at: time of the exposure; without a zone where the file gives none.
    focus_distance_m: SubjectDistance, as the camera believes it.
    sensor: size of the sensor, from the focal plane's resolution or the equivalent focal length.
    """

    focal_length_mm: float | None = None
    f_number: float | None = None
    exposure_s: float | None = None
    iso: int | None = None
    focus_distance_m: float | None = None
    sensor: Sensor | None = None
    taken_at: datetime | None = None
    lens: str = ""


def read(image: Image.Image, size_px: tuple[int, int] | None = None) -> PictureTags:
    """Tags of an opened picture; a damaged tag counts as missing.

    size_px: width and height of the picture itself, where `image` is only a view of it, as the
    first picture inside a raw file is.
    """
    try:
        exif = image.getexif()
        inner: dict[int, Any] = dict(exif.get_ifd(ExifTags.IFD.Exif))
        fallback_time = exif.get(ExifTags.Base.DateTime)
    except Exception:  # a broken block of tags raises whatever its parser stumbles over
        return PictureTags()
    tag = ExifTags.Base
    focal = _number(inner.get(tag.FocalLength), 0.1, 5000)
    iso = _number(inner.get(tag.ISOSpeedRatings), 1, 10_000_000)
    lens = inner.get(tag.LensModel)
    taken_at = exposed_at(inner, fallback_time)
    return PictureTags(
        focal_length_mm=focal,
        f_number=_number(inner.get(tag.FNumber), 0.1, 1000),
        exposure_s=_number(inner.get(tag.ExposureTime), 1e-7, 1e6),
        iso=None if iso is None else round(iso),
        # All ones means infinity, and some cameras write other nonsense for "far".
        focus_distance_m=_number(inner.get(tag.SubjectDistance), 0.001, _FARTHEST_M),
        sensor=_sensor(inner, size_px or image.size, focal),
        taken_at=taken_at,
        lens=str(lens).strip("\x00 ") if isinstance(lens, str) else "",
    )


def of_raw(told: Any) -> PictureTags:
    """The same from what LibRaw's binding tells of a raw file, for kinds that are no TIFF inside.

    told: its `other`, None in releases that have none.
    """
    focal = _number(getattr(told, "focal_length", None), 0.1, 5000)
    iso = _number(getattr(told, "iso_speed", None), 1, 10_000_000)
    moment = getattr(told, "timestamp", None)
    known = isinstance(moment, datetime) and moment.year > _BEFORE_DIGITAL
    return PictureTags(
        focal_length_mm=focal,
        f_number=_number(getattr(told, "aperture", None), 0.1, 1000),
        exposure_s=_number(getattr(told, "shutter_speed", None), 1e-7, 1e6),
        iso=None if iso is None else round(iso),
        taken_at=moment if known else None,
    )


def _number(value: Any, least: float, most: float) -> float | None:
    """A tag's (first) number, None where it is none or outside of what can be."""
    if isinstance(value, (tuple, list)) and value:
        value = value[0]
    try:
        number = float(value)
    except (TypeError, ValueError, ArithmeticError):
        return None
    return number if least <= number <= most else None


def _recorded_px(inner: dict[int, Any], size_px: tuple[int, int]) -> tuple[int, int]:
    """Size of the picture as the camera recorded it; that of the file itself where it was cut.

    A picture made smaller later keeps its shape and, often, the tags of the larger one.
    """
    tag = ExifTags.Base
    across = _number(inner.get(tag.ExifImageWidth), 1, 1e6)
    down = _number(inner.get(tag.ExifImageHeight), 1, 1e6)
    if across is None or down is None:
        return size_px
    shape = max(across, down) / min(across, down)
    same = abs(max(size_px) / min(size_px) / shape - 1) < _SAME_SHAPE
    # Smaller than the file itself, it is that of a small view inside.
    larger = max(across, down) >= (1 - _SAME_SHAPE) * max(size_px)
    return (round(across), round(down)) if same and larger else size_px


def _sensor(inner: dict[int, Any], size_px: tuple[int, int], focal: float | None) -> Sensor | None:
    """The sensor's size, where tags give it; the resolution is of the recorded picture."""
    tag = ExifTags.Base
    across = _number(inner.get(tag.FocalPlaneXResolution), 1e-6, 1e9)
    down = _number(inner.get(tag.FocalPlaneYResolution), 1e-6, 1e9) or across
    unit = _UNIT_MM.get(int(_number(inner.get(tag.FocalPlaneResolutionUnit), 1, 9) or 2), 25.4)
    if across is not None and down is not None:
        recorded_px = _recorded_px(inner, size_px)
        sides = sorted((recorded_px[0] / across * unit, recorded_px[1] / down * unit))
        if sides[0] >= _SMALLEST_SENSOR_MM and sides[1] <= _LARGEST_SENSOR_MM:
            return Sensor.from_mm(sides[1], sides[0])
    equivalent = _number(inner.get(tag.FocalLengthIn35mmFilm), 0.1, 65535)
    if equivalent is not None and focal is not None and equivalent >= focal / 2:
        diagonal_m = _FULL_FRAME_DIAGONAL_M * focal / equivalent
        long_px, short_px = max(size_px), min(size_px)
        scale = diagonal_m / math.hypot(long_px, short_px)
        sides = [short_px * scale * 1000, long_px * scale * 1000]
        if sides[0] >= _SMALLEST_SENSOR_MM and sides[1] <= _LARGEST_SENSOR_MM:
            return Sensor.from_mm(sides[1], sides[0])
    return None
