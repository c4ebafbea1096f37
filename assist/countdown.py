"""A self-timer: what is shown is a function of the time passed in; nothing here sleeps."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CountdownState:
    """seconds_left: 0 from the moment of firing on.   shown: the whole seconds to display."""

    seconds_left: float
    shown: int
    fired: bool


class Countdown:
    """Counts `seconds` from its start, and says exactly once that it is time to fire."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._started_s: float | None = None
        self._fired = False

    @property
    def running(self) -> bool:
        """Whether it has been started and has not fired."""
        return self._started_s is not None and not self._fired

    def start(self, now_s: float) -> None:
        """Begin, or begin again."""
        self._started_s = now_s
        self._fired = False

    def stop(self) -> None:
        """Give up without firing."""
        self._started_s = None

    def at(self, now_s: float) -> CountdownState | None:
        """The state at `now_s`; None when not started."""
        if self._started_s is None:
            return None
        left = max(0.0, self._seconds - (now_s - self._started_s))
        return CountdownState(left, math.ceil(left), self._fired)

    def due(self, now_s: float) -> bool:
        """True the first time that it is asked at or after zero."""
        state = self.at(now_s)
        if state is None or self._fired or state.seconds_left > 0:
            return False
        self._fired = True
        return True
