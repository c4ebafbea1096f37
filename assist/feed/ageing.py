"""How old the pictures of a live feed are: what their own clock, and their arrival, tell of it.

A delay that never changes cannot be seen from here: `assist calibrate delay` measures it. What can
be seen is a backlog, that is by how much more a picture was delayed than the quickest one.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

CLOCKS_APART = 0.002
"""By how much the sender's clock may go wrong unnoticed, seconds a second. Quartz keeps 1e-4;
nominal rates (30 for 29.97) are off by 1e-3."""
LONGEST_STEP_S = 5.0
"""Of a feed's own clock from picture to picture; more is a clock that was set."""
_WAITED = 0.5
"""Share of the time from picture to picture that a reader has to wait for the next one, if there is
none put by."""
_LONGEST_WAIT_S = 1.0
_LEVEL_OVER_S = 0.5
_LEVEL_PICTURES = 3
_LEVEL, _HALF_LEVEL = 0.9, 0.75
_PASSED_OVER_S = 1.0
_BEHIND_S = 0.25
_STALL_S = 0.5
_PUT_BY_S = 30.0
"""How much a driver without a clock may have put by during a stall, to be passed over."""
_DEVICE_KEEPS_S = 2.0


@dataclass(frozen=True, slots=True)
class Age:
    """How old a picture was when it arrived.

    age_s: as far as can be told.   doubt_s: how much older it may be; `math.inf` where a backlog
    of unknown length is still coming in.   put_by: whether newer ones wait already.
    """

    age_s: float = 0.0
    doubt_s: float = 0.0
    put_by: bool = False


class DelayLine:
    """By how much each picture is behind the quickest one, by the feed's own clock.

    The least difference of arrival and stamp so far is that of a picture without backlog. It may
    rise slowly, as two clocks never agree.
    """

    def __init__(self) -> None:
        self.zero_s = math.inf
        """Arrival minus stamp of a picture without backlog; infinite before the first."""
        self._excess_s = 0.0
        self._stamp_s = self._arrived_s = 0.0

    def excess_s(self, stamp_s: float, arrived_s: float) -> float:
        """How much later the picture comes than it would without backlog, seconds."""
        offset_s = arrived_s - stamp_s
        if math.isinf(self.zero_s):
            self.zero_s = offset_s
        else:
            passed_s = max(0.0, arrived_s - self._arrived_s)
            step_s = stamp_s - self._stamp_s
            if not 0.0 < step_s <= passed_s + LONGEST_STEP_S:
                # The clock was set; the backlog is what it was.
                self.zero_s = offset_s - self._excess_s
            self.zero_s = min(self.zero_s + CLOCKS_APART * passed_s, offset_s)
        self._stamp_s, self._arrived_s = stamp_s, arrived_s
        self._excess_s = offset_s - self.zero_s
        return self._excess_s


class PictureClock:
    """Tells the age of each picture that a driver or the video library hands out.

    rate_hz: nominal pictures a second.   device: whether the stamps are of a device on this
    machine: its driver may stamp them by this machine's own clock, and puts nothing by while it is
    being opened.
    """

    def __init__(self, rate_hz: float, *, device: bool = False) -> None:
        self._rate_hz = rate_hz
        self._device = device
        self._stamps_believed = True
        self.opened()

    def opened(self) -> None:
        """Begin anew: what comes first may have been put by while the feed was being opened."""
        self._line = DelayLine()
        self._stamp_s: float | None = None
        self._arriving = None if self._device else _Arriving()
        self._level_s = -math.inf
        self._passing_over_since_s: float | None = None
        self._to_skip = 0
        self._arrived_s: float | None = None
        self._gap_s = 0.0

    def age(self, asked_s: float, arrived_s: float, stamp_s: float) -> Age:
        """The age of the next picture.

        asked_s, arrived_s: when the reader began to wait for it, and when it had it, by
        `time.monotonic`.   stamp_s: what the feed says of it; nan, or anything that stands still,
        where it says nothing.
        """
        if self._device and 0.0 <= arrived_s - stamp_s <= _DEVICE_KEEPS_S:
            return Age(arrived_s - stamp_s)  # by the clock of this machine
        last_s, self._stamp_s = self._stamp_s, stamp_s
        waited_s = arrived_s - asked_s
        believed = self._stamps_believed and math.isfinite(stamp_s)
        if last_s is None or not believed or stamp_s == last_s:
            age = self._without_clock(waited_s, arrived_s)
            first_of_all = last_s is None and not self._device
            return Age(put_by=True) if first_of_all else age
        return self._by_its_clock(waited_s, arrived_s, stamp_s, stamp_s - last_s)

    def _by_its_clock(
        self, waited_s: float, arrived_s: float, stamp_s: float, step_s: float
    ) -> Age:
        excess_s = self._line.excess_s(stamp_s, arrived_s)
        if self._device and excess_s > _DEVICE_KEEPS_S:
            # No driver keeps so much: the stamps are made up of a rate that is not the true one.
            self._stamps_believed = False
            return Age()
        newer_wait = waited_s < _WAITED * min(max(step_s, 0.0), _LONGEST_WAIT_S)
        if self._line.zero_s < self._level_s - _BEHIND_S / 2:
            # What passed for fresh was not: more had been put by.
            self._arriving, self._level_s = _Arriving(), -math.inf
        if self._arriving is not None:
            if self._arriving.level(stamp_s, arrived_s) and not newer_wait:
                self._arriving, self._level_s = None, self._line.zero_s
            else:
                # While pictures come faster than they were taken, nobody knows how many follow; if
                # they come slower from the start, nobody knows since when.
                return Age(excess_s, math.inf, self._passed_over(arrived_s, wanted=True))
        behind = newer_wait and excess_s > _BEHIND_S
        return Age(excess_s, put_by=self._passed_over(arrived_s, wanted=behind))

    def _passed_over(self, arrived_s: float, *, wanted: bool) -> bool:
        """Whether to leave the picture out: not for so long that nobody is told what goes on."""
        if not wanted:
            self._passing_over_since_s = None
            return False
        if self._passing_over_since_s is None:
            self._passing_over_since_s = arrived_s
        return arrived_s - self._passing_over_since_s < _PASSED_OVER_S

    def _without_clock(self, waited_s: float, arrived_s: float) -> Age:
        """The same where the feed has no clock of its own.

        After a stall what was put by comes at once; the first picture that has to be waited for is
        a new one.
        """
        usual_s = max(_STALL_S, 2 * self._gap_s)  # in the dark some cameras give two a second
        self._gap_s = 0.0 if self._arrived_s is None else arrived_s - self._arrived_s
        self._arrived_s = arrived_s
        if self._gap_s > usual_s:
            self._to_skip = round(_PUT_BY_S * self._rate_hz)
            return Age(put_by=True)
        if self._to_skip and waited_s < _WAITED / self._rate_hz:
            self._to_skip -= 1
            return Age(put_by=True)
        self._to_skip = 0
        return Age()


class _Arriving:
    """The first pictures after an opening: whether they arrive as fast as they were taken."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, float]] = deque()

    def level(self, stamp_s: float, arrived_s: float) -> bool:
        """Whether they do, with this next picture."""
        recent = self._recent
        if recent and stamp_s <= recent[-1][0]:
            recent.clear()
        recent.append((stamp_s, arrived_s))
        while len(recent) > _LEVEL_PICTURES and arrived_s - recent[1][1] >= _LEVEL_OVER_S:
            recent.popleft()
        if len(recent) < _LEVEL_PICTURES or arrived_s - recent[0][1] < _LEVEL_OVER_S:
            return False
        # In halves too: first too fast and then too slow comes to the same in the end.
        middle_s = (recent[0][1] + arrived_s) / 2
        middle = min(recent, key=lambda one: abs(one[1] - middle_s))
        return (
            _as_fast(recent[0], recent[-1], _LEVEL)
            and _as_fast(recent[0], middle, _HALF_LEVEL)
            and _as_fast(middle, recent[-1], _HALF_LEVEL)
        )


def _as_fast(one: tuple[float, float], other: tuple[float, float], least: float) -> bool:
    """Whether as much time passed between two arrivals as between their stamps, to that share."""
    shown_s, passed_s = other[0] - one[0], other[1] - one[1]
    return least * shown_s <= passed_s <= shown_s / least
