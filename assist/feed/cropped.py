"""A feed without its black bars."""

from __future__ import annotations

from collections.abc import Callable

from assist.feed import Frame, Source


def part_of(frame: Frame, left: int, top: int, width: int, height: int) -> Frame:
    """The frame with a part of its picture, in pixels."""
    # A copy: the native libraries behind want rows without gaps.
    part = frame.picture[top : top + height, left : left + width].copy()
    return Frame(part, frame.time_s, frame.index)


class CroppedSource:
    """`Source` that hands out a part of each picture of another source.

    part: left, top, width and height of the part for a picture's width and height, in pixels. It
    raises UserError for a picture that it does not fit.
    """

    def __init__(
        self, source: Source, part: Callable[[int, int], tuple[int, int, int, int]]
    ) -> None:
        self._source = source
        self._part = part
        self.live = source.live
        self.frames_expected = source.frames_expected
        self.rate_hz = source.rate_hz

    def read(self) -> Frame | None:
        """The part of the next picture."""
        frame = self._source.read()
        if frame is None:
            return None
        height, width = frame.picture.shape[:2]
        left, top, across, down = self._part(width, height)
        return part_of(frame, left, top, across, down)

    def close(self) -> None:
        """Close the source behind."""
        self._source.close()
