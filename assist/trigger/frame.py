"""The picture is the feed's own frame, kept without loss."""

from __future__ import annotations

from pathlib import Path

import cv2

from assist.errors import UserError
from assist.files import write_whole
from assist.pose import ColourImage
from assist.trigger import Fired


class FrameTrigger:
    """Stores the frame as PNG in a folder, unmirrored and without overlay."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Write the file whole; never over an earlier one."""
        path = self._folder / f"picture-{attempt:04d}.png"
        encoded, content = cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 2])
        if not encoded:
            return Fired("frame", None, "the frame could not be encoded")
        try:
            write_whole(path, content.tobytes())
        except UserError as error:
            return Fired("frame", None, str(error))
        return Fired("frame", path)

    def close(self) -> None:
        """Nothing is held."""
