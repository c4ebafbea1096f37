"""Firing without holding up the screen: a trigger on a thread of its own, asked later."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections import deque
from dataclasses import dataclass
from typing import Generic, TypeVar

from assist.pose import ColourImage
from assist.trigger import Breakable, Fired, Trigger
from assist.trouble import Trouble

Ticket = TypeVar("Ticket")

_LAST_WORD_S = 3.0
"""How long a firing that was broken off gets to say what came of it."""


@dataclass(frozen=True, slots=True)
class Done(Generic[Ticket]):
    """A firing that is over, with what was handed in along with it."""

    ticket: Ticket
    fired: Fired


class BackgroundTrigger(Generic[Ticket]):
    """Fires one after another; `poll` tells what is over. One that raises counts as failed.

    Whatever was ordered is told of exactly once, at the latest by `close`.
    """

    closing_problem = ""
    """What went wrong when the trigger was let go at the end, in one line; "" where nothing did."""

    def __init__(self, trigger: Trigger) -> None:
        self._trigger = trigger
        self._name = type(trigger).__name__
        self._orders: queue.SimpleQueue[tuple[ColourImage, int] | None] = queue.SimpleQueue()
        self._over: queue.SimpleQueue[Fired] = queue.SimpleQueue()
        self._open: deque[Ticket] = deque()
        # Not the thread's own join: interrupted, it takes a running thread for one that has ended.
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="trigger", daemon=True)
        self._thread.start()

    @property
    def pending(self) -> int:
        """How many firings `poll` has not told of yet."""
        return len(self._open)

    @property
    def needs_picture(self) -> bool:
        """Whether it is of no use without a fresh picture of the feed."""
        return bool(getattr(self._trigger, "needs_picture", False))

    def fire(self, picture: ColourImage, attempt: int, ticket: Ticket) -> None:
        """Order a firing; returns at once. `picture` must not be changed afterwards."""
        self._open.append(ticket)
        self._orders.put((picture, attempt))

    def poll(self, wait_s: float = 0.0) -> list[Done[Ticket]]:
        """All that is over; waits up to `wait_s` for the first."""
        over: list[Done[Ticket]] = []
        try:
            while True:
                block = wait_s > 0 and not over and bool(self._open)
                fired = self._over.get(block, wait_s if block else None)
                over.append(Done(self._open.popleft(), fired))
        except queue.Empty:
            return over

    def close(self, wait_s: float) -> list[Done[Ticket]]:
        """End the thread; what is still going on gets `wait_s` in all. Returns all that was open.

        What is not over by then is broken off where it can be, and told of as unfinished: it cannot
        hold up the end of the program. An interrupt ends the wait.
        """
        self._orders.put(None)
        interrupted = True
        with contextlib.suppress(KeyboardInterrupt):
            self._ended.wait(wait_s)
            interrupted = False
        if not self._ended.is_set() and isinstance(self._trigger, Breakable):
            self._trigger.abort()
            with contextlib.suppress(KeyboardInterrupt):
                self._ended.wait(_LAST_WORD_S)
        over = self.poll()
        if not (self._ended.is_set() or self._open or interrupted):
            self.closing_problem = f"{self._name} had not let go when the run ended"
        unfinished = Fired(
            self._name,
            None,
            "still under way when the run ended; what came of it is not known",
            trouble=Trouble.HANGS,
        )
        over += [Done(ticket, unfinished) for ticket in self._open]
        self._open.clear()
        return over

    def _run(self) -> None:
        try:
            self._fire_all()
            self._trigger.close()
        except Exception as error:  # told with the run's outcome, as what goes wrong in firing is
            self.closing_problem = f"{self._name} could not be let go at the end: {error}"
        finally:
            self._ended.set()

    def _fire_all(self) -> None:
        while (order := self._orders.get()) is not None:
            picture, attempt = order
            try:
                fired = self._trigger.fire(picture, attempt)
            except Exception as error:  # a bug in one trigger must not end the run unrecorded
                problem = f"the trigger failed: {error}"
                fired = Fired(self._name, None, problem, trouble=Trouble.TRIGGER)
            self._over.put(fired)
