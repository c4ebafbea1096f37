"""A feed whose pictures are always late, by a time that was stated or measured, or is not known."""

from __future__ import annotations

import math
from dataclasses import replace

from assist.feed import Frame, Source


class DelayedSource:
    """`Source` that takes a constant delay of another live source into account, in seconds.

    None is for one that must be large and is not known.
    """

    def __init__(self, source: Source, delay_s: float | None) -> None:
        self._source = source
        self._delay_s = delay_s
        self.live = source.live
        self.frames_expected = source.frames_expected
        self.rate_hz = source.rate_hz

    def read(self) -> Frame | None:
        """The next picture, taken so much earlier than it seems."""
        frame = self._source.read()
        if frame is None:
            return None
        delay_s = self._delay_s
        if delay_s is None:
            return replace(frame, doubt_s=math.inf)
        return replace(frame, time_s=frame.time_s - delay_s, age_s=frame.age_s + delay_s)

    def close(self) -> None:
        """Close the source behind."""
        self._source.close()
