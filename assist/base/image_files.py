"""How large a picture may be, told from its first bytes before anything is decoded.

A few kilobytes can claim a picture of gigabytes. Sizes beyond any camera's are refused; those of
the largest cameras are worked on one at a time.
"""

from __future__ import annotations

import io
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from assist.base.images import ColourImage
from assist.base.words import _

MOST_PIXELS = 105_000_000
"""The largest cameras in use have about a hundred megapixels. Common practice, no source."""
MOST_PIXELS_PNG = 90_000_000
"""OpenCV takes about 10 bytes a pixel to decode a PNG, 6 for a JPEG or TIFF (measured)."""
MOST_BYTES = 400_000_000
MOST_FRAME_PIXELS = 40_000_000
"""Of a video or feed: the largest in use, 8K, has 33 megapixels."""
PICTURE_ENDINGS = frozenset({".jpg", ".jpeg", ".png", ".tif", ".tiff"})
RAW_ENDINGS = frozenset(
    {".dng", ".cr2", ".cr3", ".nef", ".arw", ".raf", ".rw2", ".orf", ".pef", ".srw"}
)
"""What cameras' files end in, lower case."""
KINDS = ("JPEG", "PNG", "TIFF", "BMP", "WEBP")
"""What a file may be, whatever its name. Pillow knows many more, some of which start programs."""

# Pillow's own guard stays, as a second line; between once and twice its limit it would only warn.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS
warnings.filterwarnings("ignore", category=Image.DecompressionBombWarning)
# What it finds odd in a file's tags is not for the user of this program to mend.
warnings.filterwarnings("ignore", category=UserWarning, module=r"PIL\.")


class TooLargeError(ValueError):
    """More pixels or bytes than the limit; the text says how many."""


def opened(content: bytes | Path) -> Image.Image:
    """The picture, not yet decoded, once its size is known to be bearable.

    Raises TooLargeError, or whatever Pillow raises for a damaged file.
    """
    try:
        image = Image.open(
            io.BytesIO(content) if isinstance(content, bytes) else content, formats=KINDS
        )
    except Image.DecompressionBombError as error:
        raise TooLargeError(
            _("more than {most} million pixels", most=MOST_PIXELS // 1_000_000)
        ) from error
    most = MOST_PIXELS_PNG if image.format == "PNG" else MOST_PIXELS
    if image.width * image.height > most:
        image.close()
        raise TooLargeError(
            _(
                "{width} x {height} pixels are too many (at most {most} million)",
                width=image.width,
                height=image.height,
                most=most // 1_000_000,
            )
        )
    return image


def is_whole(file: Path) -> bool:
    """Whether it can be decoded to its end: a file that is still being written cannot."""
    try:
        with opened(file) as image:
            image.load()
    except Exception:  # Pillow raises whatever a damaged file makes its parsers stumble over
        return False
    return True


def decoded(content: bytes | NDArray[np.uint8]) -> ColourImage | None:
    """The picture as OpenCV decodes it, turned as its tags say; None where it cannot.

    Only for content that `opened` has let through.
    """
    data = np.frombuffer(content, np.uint8) if isinstance(content, bytes) else content
    if not _chunks_fit(data):
        return None
    try:
        image = cv2.imdecode(data, cv2.IMREAD_COLOR)
    except (cv2.error, MemoryError):
        return None
    return None if image is None else np.asarray(image, dtype=np.uint8)


def _chunks_fit(data: NDArray[np.uint8]) -> bool:
    """Whether no chunk of a PNG claims to be longer than the file, up to its end; True for others.

    OpenCV takes as much memory as a chunk claims, up to gigabytes, before it finds the file's end.
    """
    if bytes(data[:8]) != b"\x89PNG\r\n\x1a\n":
        return True
    at = 8
    while at + 12 <= data.size:
        length = int.from_bytes(bytes(data[at : at + 4]), "big")
        kind = bytes(data[at + 4 : at + 8])
        at += 12 + length
        if at > data.size:
            return False
        if kind == b"IEND":
            return length == 0  # it is empty, and OpenCV reads on after one that is not
    return False


class PixelBudget:
    """Lets threads work on pictures at once as long as they are not too many pixels together."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._used = 0
        self._changed = threading.Condition()

    @contextmanager
    def taking(self, pixels: int) -> Iterator[None]:
        """Wait until there is room, or nothing else under way, and hold it."""
        with self._changed:
            self._changed.wait_for(lambda: self._used == 0 or self._used + pixels <= self._most)
            self._used += pixels
        try:
            yield
        finally:
            with self._changed:
                self._used -= pixels
                self._changed.notify_all()
