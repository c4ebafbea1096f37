"""Picture files: a small view for finding the person, the whole one for measuring."""

from __future__ import annotations

import math
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image, ImageOps

from assist.base import image_files as picture_limits
from assist.base.errors import UserError
from assist.base.image_files import (
    MOST_BYTES,
    MOST_PIXELS,
    PICTURE_ENDINGS,
    RAW_ENDINGS,
    PixelBudget,
    TooLargeError,
)
from assist.base.images import ColourImage
from assist.base.reading import read_bytes, size_of
from assist.base.words import _
from assist.review import tags
from assist.review.blur import compression
from assist.review.blur.compression import Compression
from assist.review.tags import PictureTags

SMALL_SIDE_PX = 1200
"""Long side of the small view, about: enough for the pose network on a standing person."""
_MOST_PIXELS_SLOWLY = 50_000_000
"""For kinds that only Pillow decodes, which takes several times the memory."""
_AT_ONCE = PixelBudget(MOST_PIXELS)
"""What all threads of a review may hold together."""


class UnreadableError(Exception):
    """A picture that cannot be read; the text says why. One bad file must not end a review."""


@dataclass(frozen=True, slots=True)
class OpenedPicture:
    """One picture, upright.

    small: reduced picture.   scale: size of the whole one over the small one.
    whole: the picture at full size.   compression: what a JPEG went through.
    """

    path: Path
    tags: PictureTags
    small: ColourImage
    whole: ColourImage
    compression: Compression | None = None

    @property
    def width_px(self) -> int:
        """Width of the whole picture."""
        return int(self.whole.shape[1])

    @property
    def height_px(self) -> int:
        """Height of the whole picture."""
        return int(self.whole.shape[0])

    @property
    def scale(self) -> float:
        """Pixels of the whole picture per pixel of the small one."""
        return float(self.width_px / self.small.shape[1])


def find(paths: list[Path]) -> list[Path]:
    """The picture files named, folders opened one level deep, in order and without doubles."""
    found: dict[Path, None] = {}
    for path in paths:
        if path.is_dir():
            known = PICTURE_ENDINGS | RAW_ENDINGS
            inside = sorted(p for p in path.iterdir() if p.suffix.lower() in known)
            if not inside:
                raise UserError(
                    _(
                        "folder {folder} holds no pictures ({endings}, raw files)",
                        folder=path,
                        endings=", ".join(sorted(PICTURE_ENDINGS)),
                    )
                )
            found.update(dict.fromkeys(inside))
        elif not path.exists():
            raise UserError(_("picture {file} does not exist", file=path))
        elif path.suffix.lower() not in PICTURE_ENDINGS | RAW_ENDINGS:
            raise UserError(
                _(
                    "{file} is not a picture that can be reviewed: use {endings} or a raw file",
                    file=path,
                    endings=", ".join(sorted(PICTURE_ENDINGS)),
                )
            )
        else:
            found[path] = None
    return list(found)


def open_picture(path: Path) -> OpenedPicture:
    """Read a picture. Raises UnreadableError saying why it cannot be read."""
    if path.suffix.lower() in RAW_ENDINGS:
        return _open_raw(path)
    try:
        content = read_bytes(path, _("the file"), MOST_BYTES)
        with picture_limits.opened(content) as image:
            known = tags.read(image)
            packed = compression.of_file(image)
    except (UserError, TooLargeError) as error:
        raise UnreadableError(str(error)) from error
    except Exception as error:  # Pillow raises many kinds for a damaged file
        raise UnreadableError(_not_readable(error)) from error
    whole = picture_limits.decoded(content)
    if whole is None:
        whole = _decode_with_pillow(content)
    return OpenedPicture(path, known, _small(whole), whole, packed)


def room_for(path: Path) -> AbstractContextManager[None]:
    """Waits until the pictures that are being worked on leave room for this one; then holds it."""
    if path.suffix.lower() in RAW_ENDINGS:
        return _AT_ONCE.taking(MOST_PIXELS)  # developing one takes several times its own size
    try:
        with picture_limits.opened(path) as image:
            return _AT_ONCE.taking(image.width * image.height)
    except Exception:  # opening it will say what is wrong
        return _AT_ONCE.taking(0)


def _small(whole: ColourImage) -> ColourImage:
    """The small view: the whole one at a half, a quarter and so on, averaged."""
    halvings = int(math.log2(max(1.0, max(whole.shape[:2]) / SMALL_SIDE_PX)))
    if halvings == 0:
        return whole
    size = tuple(max(1, round(side / 2**halvings)) for side in whole.shape[1::-1])
    return np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _decode_with_pillow(content: bytes) -> ColourImage:
    """For the kinds of TIFF and PNG that OpenCV does not know; turned as its tags say."""
    try:
        with picture_limits.opened(content) as image:
            if image.width * image.height > _MOST_PIXELS_SLOWLY:
                raise TooLargeError(_too_many_pixels(image.width, image.height))
            upright = ImageOps.exif_transpose(image).convert("RGB")
            return np.ascontiguousarray(np.asarray(upright, dtype=np.uint8)[..., ::-1])
    except TooLargeError as error:
        raise UnreadableError(str(error)) from error
    except Exception as error:  # as above
        raise UnreadableError(_not_readable(error)) from error


def _too_many_pixels(width: int, height: int) -> str:
    return _(
        "{width} x {height} pixels are too many for this kind of file (at most {most} million)",
        width=width,
        height=height,
        most=_MOST_PIXELS_SLOWLY // 1_000_000,
    )


def _not_readable(error: Exception) -> str:
    return _("not a readable picture ({error})", error=type(error).__name__)


def _open_raw(path: Path) -> OpenedPicture:
    """A raw file, developed plainly: no sharpening, no noise reduction, no lens correction."""
    try:
        import rawpy  # noqa: PLC0415
    except ImportError as error:
        raise UserError(
            _(
                "{file} is a raw file: install the extra for them, self-portrait-assist[raw], or "
                "review the JPEG",
                file=path,
            )
        ) from error
    try:
        size_of(path, _("the file"), MOST_BYTES)
    except UserError as error:
        raise UnreadableError(str(error)) from error
    try:
        with rawpy.imread(str(path)) as raw:
            if raw.sizes.raw_width * raw.sizes.raw_height > MOST_PIXELS:
                raise TooLargeError(
                    _(
                        "{width} x {height} pixels are too many",
                        width=raw.sizes.raw_width,
                        height=raw.sizes.raw_height,
                    )
                )
            size_px = (raw.sizes.width, raw.sizes.height)
            told = tags.of_raw(getattr(raw, "other", None))
            rgb: Any = raw.postprocess(
                use_camera_wb=True,
                no_auto_bright=False,
                output_bps=8,
                demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
            )
    except TooLargeError as error:
        raise UnreadableError(str(error)) from error
    except Exception as error:  # the library's own kinds, and memory
        raise UnreadableError(
            _("not a readable raw file ({error})", error=type(error).__name__)
        ) from error
    try:
        # Many raw files are TIFF inside, tags and all; the picture in front is a small one.
        with Image.open(path, formats=("TIFF",)) as image:
            known = tags.read(image, size_px)
        known = told if known == PictureTags() else known
    except Exception:  # not a TIFF: some makers' raw files have their tags elsewhere
        known = told
    whole = np.ascontiguousarray(np.asarray(rgb, dtype=np.uint8)[..., ::-1])
    return OpenedPicture(path, known, _small(whole), whole)
