"""The picture is the feed's own frame, kept without loss."""

from __future__ import annotations

import contextlib
from pathlib import Path

import cv2

from assist.base.images import ColourImage
from assist.base.trouble import Trouble
from assist.base.words import _
from assist.camera.storing import store
from assist.camera.trigger import Fired, Trigger

NAME = "frame"
_MOST_HELD = 20


class FrameTrigger(Trigger):
    """Stores the frame as PNG in a folder, unmirrored and without overlay.

    When the folder does not take it, it is kept elsewhere; when nothing takes it, it is held in
    memory and tried again with the next one and at the end.
    """

    name = NAME
    needs_picture = True

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._held: list[tuple[str, bytes]] = []

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Write the file whole; never over an earlier one."""
        name = f"picture-{attempt:04d}.png"
        encoded, content = cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 2])
        if not encoded:
            problem = _("the frame could not be encoded")
            return Fired(NAME, None, problem, trouble=Trouble.TRIGGER)
        self._try_again()
        return self._store(name, content.tobytes())

    def _store(self, name: str, content: bytes) -> Fired:
        stored = store(self._folder, name, content)
        if stored.path is None and len(self._held) < _MOST_HELD:
            self._held.append((name, content))
        return Fired(NAME, stored.path, stored.problem, trouble=stored.trouble)

    def _try_again(self) -> None:
        held, self._held = self._held, []
        for name, content in held:
            self._store(name, content)

    def close(self) -> None:
        """Try once more to store what could not be."""
        with contextlib.suppress(OSError):
            self._try_again()
