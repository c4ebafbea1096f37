"""The orders of several people to one run: any of them may give them."""

from __future__ import annotations

import math
from collections.abc import Callable

from assist.guidance.countdown import Countdown
from assist.guidance.group import Group
from assist.pose.gesture import Gesture, GestureWatch, OrderBy
from assist.run.orders import Orders

_ONE_ORDER_S = 2.0
"""Within so long a second hand that goes up belongs to the same order: people copy one another."""


class OrdersTogether(Orders):
    """Obeys keys, and the gestures of everybody; arguments as of `Orders`."""

    def __init__(
        self,
        people: int,
        by: OrderBy | None,
        countdown: Countdown | None,
        end: Callable[[], None],
    ) -> None:
        super().__init__(None, countdown, end)
        self._each = [] if by is None else [GestureWatch(by) for _ in range(people)]
        self._ordered_s = -math.inf

    def watch_all(self, group: Group, seen_s: float, now_s: float) -> None:
        """Look at everybody in the next picture, and obey a gesture that is complete.

        seen_s, now_s: as of `Orders.watch`.
        """
        if not self._each:
            return
        done = {self._each[m.number].update(seen_s, m.pose) for m in group.members}
        if Gesture.END in done:
            self._end()
        elif Gesture.START_OR_PAUSE in done and now_s - self._ordered_s >= _ONE_ORDER_S:
            self._ordered_s = now_s
            self._start_or_pause(now_s)

    def progress(self, now_s: float) -> float:
        """How far the gesture in hand is that is farthest, from 0 to 1."""
        return max((watch.progress(now_s) for watch in self._each), default=0.0)
