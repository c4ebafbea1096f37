"""Reads a source on a thread of its own, so that decoding and waiting overlap with the network."""

from __future__ import annotations

import time
from collections.abc import Callable

from assist.base.handover import Supplier
from assist.base.images import ColourImage
from assist.feed import Frame, Pace, Silence, Source
from assist.feed.screening import Screening

_READ_AHEAD = 4
_NEXT_TRY_S = 0.005
_START_S = 0.003
"""What a camera's picture is left to the network alone: to be taken over and its colours changed.
Work that spreads over all cores at once would hold up just that."""
_LONGEST_S = 1.5
"""What a read may still take at the end of a run; a driver may hang in it."""


class FeedReader(Supplier[Frame]):
    """Hands out the frames of a source: every one of a file, the newest one of a camera.

    A file at `real` pace is played in its own time and treated as a camera: frames that come due
    while the reader is busy are left out, and so is what is no picture or no new one
    (`assist.feed.screening`). A context manager; leaving it frees the source.

    `meanwhile` is called with each picture once it has been handed over, on the reader's thread,
    for work that can be done while the network looks at it.
    """

    def __init__(
        self,
        source: Source,
        pace: Pace = "fast",
        meanwhile: Callable[[ColourImage], None] | None = None,
    ) -> None:
        self.source = source
        self.live = source.live or pace == "real"
        super().__init__("feed", None if self.live else _READ_AHEAD, _LONGEST_S)
        self._paced = pace == "real" and not source.live
        self._began_s: float | None = None
        self._last_s = 0.0
        self._screening = Screening(source.live, source.rate_hz)
        self._meanwhile = meanwhile
        self._handed_over: ColourImage | None = None

    def _next(self) -> Frame | None:
        """The source's next frame that may pass for news, at its time."""
        if self._meanwhile is not None and self._handed_over is not None:
            if self.live:
                self._made.pause(_START_S)
            self._meanwhile(self._handed_over)
            self._handed_over = None
        frame = self._next_passed()
        if frame is None:
            return None
        self._handed_over = frame.picture
        if self._paced:
            now_s = time.monotonic()
            if self._began_s is None:
                self._began_s = now_s - frame.time_s
            self._made.pause(self._began_s + frame.time_s - now_s)
        return frame

    def _next_passed(self) -> Frame | None:
        while not self._made.closed:
            read = self.source.read()
            if read is None:
                break
            frame = self._screening.passed(read, time.monotonic())
            if frame is not None:
                return frame
            if self.live:
                self._made.pause(_NEXT_TRY_S)  # a driver that hands out rubbish does not wait
        return None

    @property
    def silence(self) -> Silence:
        """Why nothing new has come, if nothing has."""
        return self._screening.silence or Silence.STOPPED

    @property
    def newest(self) -> Frame | None:
        """The last frame that came and might pass for news, looked at or not."""
        return self._screening.last

    def now_s(self) -> float:
        """The time on the feed's own clock; where a file is read fast, that of its last frame."""
        if self.source.live:
            return time.monotonic()
        if self._paced and self._began_s is not None:
            return time.monotonic() - self._began_s
        return self._last_s

    def read(self, timeout_s: float) -> Frame | None:
        """The next frame, or None when none came in time or the feed has ended.

        Raises what the source raised.
        """
        frame = self._made.take(timeout_s)
        if frame is not None:
            self._last_s = frame.time_s
        return frame

    def close(self) -> None:
        """Stop the thread and free the source; safe to call twice."""
        super().close()
        if not self.at_work:  # a source that hangs in a read cannot be freed
            self.source.close()
