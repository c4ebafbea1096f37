"""A feed without its black bars."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from assist.base.errors import UserError
from assist.feed import Frame, Source, Unfit
from assist.feed.screening import is_picture


def part_of(frame: Frame, left: int, top: int, width: int, height: int) -> Frame:
    """The frame with a part of its picture, in pixels."""
    # A copy: the native libraries behind want rows without gaps.
    part = frame.picture[top : top + height, left : left + width].copy()
    return replace(frame, picture=part)


class CroppedSource:
    """`Source` that hands out a part of each picture of another source.

    part: left, top, width and height of the part for a picture's width and height, in pixels. It
    raises UserError for a picture that it does not fit. If that is the first, reading raises it: a
    mistake to be mended at the keyboard. Later the picture is handed out whole, as unfit to be
    measured in. What is no picture is handed out as it is.
    """

    def __init__(
        self, source: Source, part: Callable[[int, int], tuple[int, int, int, int]]
    ) -> None:
        self._source = source
        self._part = part
        self._has_fitted = False
        self.live = source.live
        self.frames_expected = source.frames_expected
        self.rate_hz = source.rate_hz

    def read(self) -> Frame | None:
        """The part of the next picture."""
        frame = self._source.read()
        if frame is None or not is_picture(frame.picture):
            return frame
        height, width = frame.picture.shape[:2]
        try:
            left, top, across, down = self._part(width, height)
        except UserError:
            if not self._has_fitted:
                raise
            return replace(frame, unfit=Unfit.SHAPE)
        self._has_fitted = True
        return part_of(frame, left, top, across, down)

    def close(self) -> None:
        """Close the source behind."""
        self._source.close()
