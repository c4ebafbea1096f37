"""The orders of several people to one run: any of them may give them."""

from __future__ import annotations

import math
from collections.abc import Callable

from assist.guidance.assistant import Moment
from assist.guidance.countdown import Countdown
from assist.pose.gesture import Gesture, GestureWatch, OrderBy
from assist.run.orders import Choosing, Orders

_ONE_ORDER_S = 2.0
"""Within so long a second hand that goes up belongs to the same order: people copy one another."""


class OrdersTogether(Orders):
    """Obeys keys, and the gestures of everybody; arguments as of `Orders`."""

    def __init__(
        self,
        by: OrderBy | None,
        countdown: Countdown | None,
        end: Callable[[], None],
        who: Choosing,
    ) -> None:
        super().__init__(None, countdown, end, who)
        self._by: OrderBy | None = by
        self._each: dict[int, GestureWatch] = {}
        self._ordered_s = -math.inf

    def watch(self, moment: Moment, seen_s: float, now_s: float) -> None:
        """See `Orders`."""
        if self._by is None or moment.group is None:
            return
        done = set()
        for member in moment.group.members:
            watch = self._each.setdefault(member.number, GestureWatch(self._by))
            done.add(watch.update(seen_s, member.pose))
        if Gesture.END in done:
            self._end()
        elif Gesture.START_OR_PAUSE in done and now_s - self._ordered_s >= _ONE_ORDER_S:
            self._ordered_s = now_s
            self._start_or_pause(now_s)

    def progress(self, now_s: float) -> float:
        """How far the gesture in hand is that is farthest, from 0 to 1."""
        return max((watch.progress(now_s) for watch in self._each.values()), default=0.0)
