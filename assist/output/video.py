"""The annotated video, encoded on a thread of its own and put in place only when whole."""

from __future__ import annotations

import queue
import shutil
import threading
import time
from pathlib import Path

import cv2
import numpy as np

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import _

_BUFFERS = 4
_LEAST_FREE_BYTES = 32 * 2**20
"""With less room than this left the video is ended while it still can be finished."""
_LOOK_EVERY = 30
_STUCK_S = 10.0
_FINISH_S = 20.0
"""A disk that takes longer hangs; nothing waits for it any more."""
_HURRY_S = 0.02


class VideoOutput:
    """Writes an MP4 (MPEG-4 part 2, the codec that OpenCV always carries) at a steady rate.

    A feed's times may be uneven; a picture is repeated or left out so that the video keeps time.
    Use `close` when all is well: it puts the file in place; `abandon` leaves nothing behind.

    When the disk fills or does not take the pictures, the video ends there and the run goes on:
    `trouble` says why, and what was written until then is kept if it can be.

    hurried: leave pictures out rather than hold up the run when the disk is slow.
    """

    def __init__(
        self, path: Path, size_px: tuple[int, int], rate_hz: float, hurried: bool = False
    ) -> None:
        if path.suffix.lower() != ".mp4":
            raise UserError(_("output {path}: the name must end in .mp4", path=path))
        if not path.parent.is_dir():
            raise UserError(
                _("output {path}: folder {folder} does not exist", path=path, folder=path.parent)
            )
        if (free := _free_bytes(path.parent)) < _LEAST_FREE_BYTES:
            raise UserError(
                _(
                    "output {path}: only {free} MB are free there, {least} MB are the least: make "
                    "room, or leave --output out",
                    path=path,
                    free=round(free / 2**20),
                    least=_LEAST_FREE_BYTES // 2**20,
                )
            )
        self._path = path
        self._part = path.with_name(f".{path.stem}.part.mp4")
        self._rate_hz = rate_hz
        self._writer = cv2.VideoWriter(
            str(self._part), cv2.VideoWriter.fourcc(*"mp4v"), rate_hz, size_px
        )
        if not self._writer.isOpened():
            raise UserError(_cannot_be_written(path))
        width, height = size_px
        self._free: queue.Queue[ColourImage] = queue.Queue()
        for _buffer in range(_BUFFERS):
            self._free.put(np.empty((height, width, 3), np.uint8))
        self._full: queue.Queue[tuple[ColourImage, int] | None] = queue.Queue()
        self._began_s: float | None = None
        self._written = 0
        self._next_look = 0
        self._hurried = hurried
        self._taken_s = time.monotonic()
        self._done = False
        self.trouble = ""
        """Why the video has ended before the run; "" while it goes on."""
        self._thread = threading.Thread(target=self._run, name="video output", daemon=True)
        self._thread.start()

    def write(self, canvas: ColourImage, time_s: float) -> None:
        """Add the picture at its time. The canvas may be drawn on again as soon as this returns."""
        if self._began_s is None:
            self._began_s = time_s
        due = round((time_s - self._began_s) * self._rate_hz) + 1
        copies = due - self._written
        if copies <= 0 or self.trouble:
            return
        try:
            buffer = self._free.get(timeout=_HURRY_S if self._hurried else _STUCK_S)
        except queue.Empty:
            if not self._hurried or time.monotonic() - self._taken_s > _STUCK_S:
                self.trouble = _("the disk does not answer")
            return
        self._taken_s = time.monotonic()
        self._written = due
        np.copyto(buffer, canvas)
        self._full.put((buffer, copies))

    def _run(self) -> None:
        while (job := self._full.get()) is not None:
            buffer, copies = job
            self._next_look -= copies
            if self._next_look <= 0 and not self.trouble:
                self._next_look = _LOOK_EVERY
                if _free_bytes(self._part.parent) < _LEAST_FREE_BYTES:
                    self.trouble = _("the disk is full")
            try:
                for _copy in range(0 if self.trouble else copies):
                    self._writer.write(buffer)
            except cv2.error:
                self.trouble = _("a picture could not be encoded")
            self._free.put(buffer)
        self._writer.release()

    def _finish(self) -> bool:
        """End the file; whether it came to an end. Only the first call waits for that."""
        if not self._done:
            self._done = True
            self._full.put(None)
            self._thread.join(_FINISH_S)
        return not self._thread.is_alive()

    def close(self) -> None:
        """Finish the file and put it in place; safe to call twice.

        Raises UserError when what was written is no video.
        """
        if self._done:
            return
        if not self._finish():
            raise UserError(
                _("output {path} cannot be finished: the disk does not answer", path=self._path)
            )
        if self._written == 0 or not self._part.exists():
            self._part.unlink(missing_ok=True)
            return
        if not _is_video(self._part):
            self._part.unlink(missing_ok=True)
            raise UserError(_cannot_be_written(self._path))
        try:
            self._part.replace(self._path)
        except OSError as error:
            raise UserError(
                _("output {path} cannot be written: {error}", path=self._path, error=error.strerror)
            ) from error

    def abandon(self) -> None:
        """Stop and remove what was written so far."""
        if self._finish():
            self._part.unlink(missing_ok=True)


def _cannot_be_written(path: Path) -> str:
    return _("output {path} cannot be written: check the folder and the disk", path=path)


def _free_bytes(folder: Path) -> int:
    try:
        return shutil.disk_usage(folder).free
    except OSError:
        return 0


def _is_video(path: Path) -> bool:
    """Whether it can be opened and read. OpenCV's writer does not tell when a disk is full."""
    capture = cv2.VideoCapture(str(path), cv2.CAP_FFMPEG)
    try:
        return capture.isOpened() and capture.grab()
    finally:
        capture.release()
