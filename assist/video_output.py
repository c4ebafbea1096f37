"""The annotated video, encoded on a thread of its own and put in place only when whole."""

from __future__ import annotations

import queue
import threading
from pathlib import Path

import cv2
import numpy as np

from assist.errors import UserError
from assist.pose import ColourImage

_BUFFERS = 4


class VideoOutput:
    """Writes an MP4 (MPEG-4 part 2, the codec that OpenCV always carries) at a steady rate.

    A feed's times may be uneven; a picture is repeated or left out so that the video keeps time.
    Use `close` when all is well: it puts the file in place; `abandon` leaves nothing behind.
    """

    def __init__(self, path: Path, size_px: tuple[int, int], rate_hz: float) -> None:
        if path.suffix.lower() != ".mp4":
            raise UserError(f"output {path}: the name must end in .mp4")
        if not path.parent.is_dir():
            raise UserError(f"output {path}: folder {path.parent} does not exist")
        self._path = path
        self._part = path.with_name(f".{path.stem}.part.mp4")
        self._rate_hz = rate_hz
        self._writer = cv2.VideoWriter(
            str(self._part), cv2.VideoWriter.fourcc(*"mp4v"), rate_hz, size_px
        )
        if not self._writer.isOpened():
            raise UserError(f"output {path} cannot be written: check the folder and the disk")
        width, height = size_px
        self._free: queue.Queue[ColourImage] = queue.Queue()
        for _ in range(_BUFFERS):
            self._free.put(np.empty((height, width, 3), np.uint8))
        self._full: queue.Queue[tuple[ColourImage, int] | None] = queue.Queue()
        self._began_s: float | None = None
        self._written = 0
        self._done = False
        self._thread = threading.Thread(target=self._run, name="video output", daemon=True)
        self._thread.start()

    def write(self, canvas: ColourImage, time_s: float) -> None:
        """Add the picture at its time. The canvas may be drawn on again as soon as this returns."""
        if self._began_s is None:
            self._began_s = time_s
        due = round((time_s - self._began_s) * self._rate_hz) + 1
        copies = due - self._written
        if copies <= 0:
            return
        self._written = due
        buffer = self._free.get()
        np.copyto(buffer, canvas)
        self._full.put((buffer, copies))

    def _run(self) -> None:
        while (job := self._full.get()) is not None:
            buffer, copies = job
            for _ in range(copies):
                self._writer.write(buffer)
            self._free.put(buffer)

    def _finish(self) -> None:
        self._full.put(None)
        self._thread.join()
        self._writer.release()
        self._done = True

    def close(self) -> None:
        """Finish the file and put it in place."""
        if self._done:
            return
        self._finish()
        if self._written == 0 or not self._part.exists():
            self._part.unlink(missing_ok=True)
            return
        try:
            self._part.replace(self._path)
        except OSError as error:
            raise UserError(f"output {self._path} cannot be written: {error.strerror}") from error

    def abandon(self) -> None:
        """Stop and remove what was written so far."""
        if not self._done:
            self._finish()
        self._part.unlink(missing_ok=True)
