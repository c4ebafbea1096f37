"""Measuring how late a feed's pictures come: it is shown a clock, and the clock is read in them."""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from assist.base.errors import UserError
from assist.base.handover import Supplier
from assist.base.images import ColourImage
from assist.base.words import _, current
from assist.calibrate.moving_clock import SIZE_PX, ClockReader, MovingClock, behind_s
from assist.feed.opening import open_feed
from assist.feed.reader import FeedReader
from assist.output.window import PreviewWindow
from assist.setup.feed_profile import FeedProfile

LEAST_READINGS = 30
_MOST_DOUBT_S = 0.1
_LEAVING_S = 2.0
_TICK_S = 0.1
_FRAME_S = 1 / 30
_EARLIEST_S = -0.1
"""A picture cannot show what comes later; this much may be the clock's and the screen's doing."""
MOST_SPREAD_S = 0.1
"""A delay that varies by more is no constant: it comes from the network, and must be told anew."""


class Shown(Protocol):
    """What shows the clock: a window, or what a test puts in its place."""

    @property
    def closed(self) -> bool:
        """Whether the user closed it."""
        ...

    def show(self, canvas: ColourImage) -> str:
        """Show it; the key pressed, "" for none."""
        ...


@dataclass(frozen=True)
class LearnedDelay:
    """How late pictures come, seconds.

    delay_s: the median.   spread_s: half of the range of the middle 90 %.   used, seen: pictures
    that the clock was read in, and all that came.
    """

    delay_s: float
    spread_s: float
    used: int
    seen: int

    @property
    def varies(self) -> bool:
        """Whether it is too unsteady for one figure to stand for it."""
        return self.spread_s > MOST_SPREAD_S

    def into(self, profile: FeedProfile) -> FeedProfile:
        """The profile with this delay."""
        return profile.model_copy(
            update={"delay_s": round(self.delay_s, 3), "delay_spread_s": round(self.spread_s, 3)}
        )

    def in_words(self) -> str:
        """The figures in one line."""
        say = current()
        return _(
            "the feed's pictures come {delay} s late, give or take {spread} s (the clock was read "
            "in {used} of {seen} pictures; the screen's own delay, a few hundredths of a second, "
            "is in it)",
            delay=say.figure(self.delay_s, 2),
            spread=say.figure(max(self.spread_s, 0.01), 2),
            used=self.used,
            seen=self.seen,
        )


def of_readings(late_s: list[float], seen: int) -> LearnedDelay:
    """What single readings come to; UserError where they are too few to rely on."""
    kept = [value for value in late_s if value >= _EARLIEST_S]
    if len(kept) < LEAST_READINGS:
        raise UserError(
            _(
                "the clock was read in {used} of {seen} pictures, {least} are needed: point the "
                "feed's camera at the window so that its four corner marks are in the picture and "
                "in focus, as large as they go (a mirror will do), without a lamp in the screen",
                used=len(kept),
                seen=seen,
                least=LEAST_READINGS,
            )
        )
    median_s = float(np.median(kept))
    low_s, high_s = np.percentile(kept, (5, 95))
    return LearnedDelay(max(0.0, median_s), float(high_s - low_s) / 2, len(kept), seen)


def learn_delay(
    feed: str, *, seconds: float = 10.0, patience_s: float = 60.0, window: Shown | None = None
) -> LearnedDelay:
    """Show the clock, and read it in the feed's pictures for so many seconds of good readings.

    patience_s: how long to wait for those.   window: what shows the clock, a window of its own if
    left out. What the feed tells of itself, a backlog, is not counted: a run knows it too.

    Raises UserError when the feed or a window does not open, the feed is a recording, or the clock
    is seen in too few pictures.
    """
    with contextlib.ExitStack() as stack:
        shown: Shown = window or stack.enter_context(PreviewWindow(SIZE_PX))
        source = open_feed(feed, delay_s=0.0)
        if not source.live:
            source.close()
            raise UserError(
                _("{feed} is a recording: a delay is measured with a live feed", feed=feed)
            )
        reader = stack.enter_context(FeedReader(source))
        readings = stack.enter_context(_Readings(reader))
        wanted = max(LEAST_READINGS, round(seconds * min(source.rate_hz, 30.0) / 2))
        clock, began_s, drawn_s, pace_s = MovingClock(), time.monotonic(), 0.0, _FRAME_S
        late_s: list[float] = []
        while len(late_s) < wanted and not shown.closed:
            now_s = time.monotonic()
            if now_s - began_s > patience_s:
                break
            if drawn_s:
                pace_s += 0.1 * (min(now_s - drawn_s, 0.2) - pace_s)
            drawn_s = now_s
            # It stands until the next one is drawn: half of that later, on average.
            if shown.show(clock.at(now_s + pace_s / 2, len(late_s) / wanted)) in ("escape", "q"):
                break
            while (reading := readings.take(0.0)) is not None:
                late_s.append(reading)
            time.sleep(max(0.0, now_s + _FRAME_S - time.monotonic()))
        return of_readings(late_s, readings.seen)


class _Readings(Supplier[float]):
    """Reads the clock in a feed's pictures on a thread of its own: by how much each is late."""

    def __init__(self, reader: FeedReader) -> None:
        super().__init__("clock", 1000, _LEAVING_S)
        self._feed = reader
        self._clock = ClockReader()
        self.seen = 0

    def take(self, timeout_s: float) -> float | None:
        """The next reading, None when there is none yet."""
        return self._made.take(timeout_s)

    def _next(self) -> float | None:
        while not self._made.closed:
            frame = self._feed.read(_TICK_S)
            if frame is None:
                if self._feed.ended:
                    return None
                continue
            self.seen += 1
            shown_s = self._clock.read(frame.picture)
            if shown_s is not None and frame.doubt_s <= _MOST_DOUBT_S:
                return behind_s(shown_s, frame.time_s)
        return None
