"""A video file."""

from __future__ import annotations

from pathlib import Path

import cv2

from assist.base.errors import UserError
from assist.base.image_files import MOST_FRAME_PIXELS
from assist.base.words import _
from assist.feed import Frame
from assist.feed.capture import check_rotation, open_capture, turned, usable_rate
from assist.feed.screening import LONGEST_GAP_S, following
from assist.feed.square_pixels import pixel_aspect, squared


class VideoFileSource:
    """`Source` over a video file; turned by its own orientation tag and then by `rotation_deg`."""

    live = False

    def __init__(self, path: Path, rotation_deg: int = 0) -> None:
        self._rotation_deg = check_rotation(rotation_deg)
        self._path = path
        self._capture = open_capture(
            # From the root on, or a file called `tcp:...` would be taken for an address.
            str(path.resolve()),
            cv2.CAP_FFMPEG,
        )
        if self._capture is None:
            raise UserError(
                _(
                    "video {path} cannot be opened: not a video, damaged, or of an unknown kind",
                    path=path,
                )
            )
        # This release of OpenCV reads the tag, and turns the pictures only when told to.
        self._capture.set(cv2.CAP_PROP_ORIENTATION_AUTO, 1)
        width, height = (
            int(self._capture.get(what))
            for what in (cv2.CAP_PROP_FRAME_WIDTH, cv2.CAP_PROP_FRAME_HEIGHT)
        )
        if width * height > MOST_FRAME_PIXELS:
            self.close()
            raise UserError(
                _(
                    "video {path} has pictures of {width} x {height} pixels, too many (at most "
                    "{most} million)",
                    path=path,
                    width=width,
                    height=height,
                    most=MOST_FRAME_PIXELS // 1_000_000,
                )
            )
        self.rate_hz = usable_rate(self._capture.get(cv2.CAP_PROP_FPS), 25.0)
        count = int(self._capture.get(cv2.CAP_PROP_FRAME_COUNT))
        self.frames_expected = count if count > 0 else None
        self._index = -1
        self._time_s: float | None = None

    def read(self) -> Frame | None:
        """The next picture. The file's time stamps count; where they cannot be, the rate does."""
        if self._capture is None:
            return None
        found, picture = self._capture.read()
        if not found or picture is None:
            if self._index < 0:
                raise UserError(_("video {path} holds no readable picture", path=self._path))
            return None
        if picture.size > 3 * MOST_FRAME_PIXELS:  # it may grow on the way
            raise UserError(_("video {path} has pictures too large to work on", path=self._path))
        picture = squared(picture, pixel_aspect(self._capture))  # type: ignore[arg-type]
        self._index += 1
        stamp_s = self._capture.get(cv2.CAP_PROP_POS_MSEC) / 1000
        if self._time_s is None:
            self._time_s = stamp_s if 0.0 <= stamp_s <= LONGEST_GAP_S else 0.0
        else:
            self._time_s = following(self._time_s, stamp_s, self.rate_hz)
        return Frame(turned(picture, self._rotation_deg), self._time_s, self._index)

    def close(self) -> None:
        """Close the file."""
        if self._capture is not None:
            self._capture.release()
            self._capture = None
