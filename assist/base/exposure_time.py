"""When a picture was taken, by its tags: EXIF, CIPA DC-008 (numbers from Pillow's `ExifTags`)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from PIL import ExifTags

from assist.base import image_files


def exposed_at(inner: Mapping[int, Any], fallback: Any = None) -> datetime | None:
    """Time of the exposure; without a zone where the tags give none, None where they give no time.

    inner: the tags of the Exif directory.   fallback: the file's own DateTime.
    """
    tag = ExifTags.Base
    text = inner.get(tag.DateTimeOriginal) or inner.get(tag.DateTimeDigitized) or fallback
    try:
        moment = datetime.strptime(str(text).strip("\x00 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    digits = str(inner.get(tag.SubsecTimeOriginal, "")).strip("\x00 ")
    if digits.isascii() and digits.isdigit():  # microseconds are as fine as a time is kept
        moment = moment.replace(microsecond=int(digits[:6].ljust(6, "0")))
    zone = _zone(inner.get(tag.OffsetTimeOriginal) or inner.get(tag.OffsetTime))
    return moment if zone is None else moment.replace(tzinfo=zone)


def exposed_at_of(file: Path) -> datetime | None:
    """The same of a file; None where it cannot be read or does not say."""
    try:
        with image_files.opened(file) as image:
            exif = image.getexif()
            return exposed_at(
                dict(exif.get_ifd(ExifTags.IFD.Exif)), exif.get(ExifTags.Base.DateTime)
            )
    except Exception:  # a damaged file raises whatever its parser stumbles over
        return None


def _zone(text: Any) -> timezone | None:
    """`+02:00` as a zone."""
    words = str(text or "").strip("\x00 ")
    try:
        sign = {"+": 1, "-": -1}[words[0]]
        hours, minutes = words[1:].split(":")
        return timezone(sign * timedelta(hours=int(hours), minutes=int(minutes)))
    except (KeyError, IndexError, ValueError, OverflowError):
        return None
