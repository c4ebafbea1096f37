"""Looks for black bars in the first pictures of a feed, beside the run and never in its way."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

from assist.calibrate.framing import Level, PictureArea, brightest, find_in_levels
from assist.feed import Frame, Source
from assist.feed.screening import is_picture
from assist.pose import ColourImage

_EVERY_S = 0.5
_LEAST = 5
_MOST = 12
"""So many pictures are looked at: the fewest in which a feed that is sure can be, and the most, of
one that is dark at first."""
_LAST_WORD_S = 3.0

Found = Callable[[PictureArea, int, int], None]


class BarsWatch:
    """`Source` that hands out another's pictures, and looks at a few of the first.

    found: called once if there are black bars, from a thread of its own, with the picture between
    them and the feed's width and height. Where it is not sure, nothing is said.
    """

    def __init__(self, source: Source, found: Found) -> None:
        self._source = source
        self._found = found
        self.live = source.live
        self.frames_expected = source.frames_expected
        self.rate_hz = source.rate_hz
        self._picked: queue.SimpleQueue[ColourImage | None] = queue.SimpleQueue()
        self._next_s: float | None = None
        self._left = _MOST
        self._done = False
        self._thread = threading.Thread(target=self._look, name="bars", daemon=True)

    def read(self) -> Frame | None:
        """The next picture, as it came."""
        frame = self._source.read()
        if frame is not None and self._left > 0 and not self._done and is_picture(frame.picture):
            self._pick(frame)
        return frame

    def _pick(self, frame: Frame) -> None:
        if self._next_s is None:
            self._thread.start()
        elif frame.time_s < self._next_s:
            return
        self._next_s = frame.time_s + _EVERY_S
        self._left -= 1
        self._picked.put(frame.picture)
        if self._left == 0:
            self._picked.put(None)

    def _look(self) -> None:
        levels: list[Level] = []
        while (picture := self._picked.get()) is not None:
            level = brightest(picture)
            if levels and level.shape != levels[0].shape:
                levels = []
            levels.append(level)
            if len(levels) < _LEAST:
                continue
            area = find_in_levels(levels)
            if isinstance(area, PictureArea):
                self._done = True
                height, width = level.shape
                if (area.width_px, area.height_px) != (width, height):
                    self._found(area, width, height)
                return

    def close(self) -> None:
        """Close the source behind; what is already at hand is still looked at."""
        self._picked.put(None)
        if self._thread.is_alive():
            self._thread.join(_LAST_WORD_S)
        self._source.close()
