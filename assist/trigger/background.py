"""Firing without holding up the screen: a trigger on a thread of its own, asked later."""

from __future__ import annotations

import queue
import threading
from dataclasses import dataclass
from typing import Generic, TypeVar

from assist.pose import ColourImage
from assist.trigger import Fired, Trigger

Ticket = TypeVar("Ticket")


@dataclass(frozen=True, slots=True)
class Done(Generic[Ticket]):
    """A firing that is over, with what was handed in along with it."""

    ticket: Ticket
    fired: Fired


class BackgroundTrigger(Generic[Ticket]):
    """Fires one after another; `poll` tells what is over. One that raises counts as failed."""

    def __init__(self, trigger: Trigger) -> None:
        self._trigger = trigger
        self._orders: queue.SimpleQueue[tuple[ColourImage, int, Ticket] | None] = (
            queue.SimpleQueue()
        )
        self._over: queue.SimpleQueue[Done[Ticket]] = queue.SimpleQueue()
        self._pending = 0
        self._thread = threading.Thread(target=self._run, name="trigger", daemon=True)
        self._thread.start()

    @property
    def pending(self) -> int:
        """How many firings `poll` has not told of yet."""
        return self._pending

    def fire(self, picture: ColourImage, attempt: int, ticket: Ticket) -> None:
        """Order a firing; returns at once. `picture` must not be changed afterwards."""
        self._pending += 1
        self._orders.put((picture, attempt, ticket))

    def poll(self, wait_s: float = 0.0) -> list[Done[Ticket]]:
        """All that is over; waits up to `wait_s` for the first."""
        over: list[Done[Ticket]] = []
        try:
            while True:
                block = wait_s > 0 and not over and self._pending > 0
                over.append(self._over.get(block, wait_s if block else None))
                self._pending -= 1
        except queue.Empty:
            return over

    def close(self, wait_s: float) -> list[Done[Ticket]]:
        """End the thread; what was still going on gets `wait_s` in all. Returns what is over.

        What is not over by then is left: the thread cannot hold up the end of the program.
        """
        self._orders.put(None)
        self._thread.join(wait_s)
        return self.poll()

    def _run(self) -> None:
        while (order := self._orders.get()) is not None:
            picture, attempt, ticket = order
            try:
                fired = self._trigger.fire(picture, attempt)
            except Exception as error:  # a bug in one trigger must not end the run unrecorded
                fired = Fired(type(self._trigger).__name__, None, f"the trigger failed: {error}")
            self._over.put(Done(ticket, fired))
        self._trigger.close()
