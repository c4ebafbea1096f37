"""A folder of pictures, taken in the order of their names."""

from __future__ import annotations

import re
from pathlib import Path

from assist.base import image_files as picture_limits
from assist.base.errors import UserError
from assist.base.image_files import MOST_BYTES
from assist.base.images import ColourImage
from assist.base.reading import read_bytes
from assist.base.words import _
from assist.feed import Frame
from assist.feed.capture import check_rotation, turned

_ENDINGS = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".bmp", ".webp"}


def read_picture(path: Path) -> ColourImage | None:
    """The picture in colour, turned as its tags say; None when it is unreadable or too large."""
    try:
        content = read_bytes(path, _("the file"), MOST_BYTES)
        picture_limits.opened(content).close()
    except Exception:  # damaged files make Pillow raise many kinds
        return None
    return picture_limits.decoded(content)  # imread fails on non-ASCII paths on some systems


def natural_order(path: Path) -> list[tuple[int, int | str]]:
    """Sort key in which picture 10 comes after picture 9."""
    parts = re.split(r"([0-9]+)", path.name.lower())
    return [(0, int(part)) if place % 2 else (1, part) for place, part in enumerate(parts)]


class ImageFolderSource:
    """`Source` over a folder; a picture that cannot be read is passed over and counted."""

    live = False

    def __init__(self, folder: Path, rotation_deg: int = 0, rate_hz: float = 25.0) -> None:
        self._rotation_deg = check_rotation(rotation_deg)
        self._folder = folder
        self._paths = sorted(
            (p for p in folder.iterdir() if p.suffix.lower() in _ENDINGS), key=natural_order
        )
        if not self._paths:
            raise UserError(
                _(
                    "folder {folder} holds no pictures ({kinds})",
                    folder=folder,
                    kinds=", ".join(sorted(_ENDINGS)),
                )
            )
        self.rate_hz = rate_hz
        self.frames_expected: int | None = len(self._paths)
        self.unreadable: list[Path] = []
        self._next = 0

    def read(self) -> Frame | None:
        """The next readable picture."""
        while self._next < len(self._paths):
            index, path = self._next, self._paths[self._next]
            self._next += 1
            picture = read_picture(path)
            if picture is not None:
                return Frame(turned(picture, self._rotation_deg), index / self.rate_hz, index)
            self.unreadable.append(path)
        if len(self.unreadable) == len(self._paths):
            raise UserError(
                _("folder {folder}: none of its pictures can be read", folder=self._folder)
            )
        return None

    def close(self) -> None:
        """Nothing is held open."""
        self._next = len(self._paths)
