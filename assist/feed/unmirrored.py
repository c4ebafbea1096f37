"""A feed that mirrors its own picture, as many webcams do, put right before all else."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from assist.feed import Frame, Source
from assist.feed.screening import is_picture


class UnmirroredSource:
    """`Source` that hands out another's pictures with left and right changed."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self.live = source.live
        self.frames_expected = source.frames_expected
        self.rate_hz = source.rate_hz

    def read(self) -> Frame | None:
        """The next picture as the camera saw it; what is no picture is handed out as it is."""
        frame = self._source.read()
        if frame is None or not is_picture(frame.picture):
            return frame
        return replace(frame, picture=np.asarray(cv2.flip(frame.picture, 1), np.uint8))

    def close(self) -> None:
        """Close the source behind."""
        self._source.close()
