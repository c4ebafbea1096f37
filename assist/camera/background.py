"""Firing without holding up the screen: a trigger on a thread of its own, asked later."""

from __future__ import annotations

import contextlib
import threading
import time
from collections import deque
from dataclasses import dataclass
from typing import Generic, TypeVar

from assist.base.images import ColourImage
from assist.base.trouble import Trouble
from assist.base.words import _, current
from assist.camera.trigger import Fired, Trigger

Ticket = TypeVar("Ticket")

_LAST_WORD_S = 3.0
"""How long, at the end, a firing that was broken off gets to say what came of it."""
_LOOK_EVERY_S = 0.05


@dataclass(frozen=True, slots=True)
class Done(Generic[Ticket]):
    """A firing that is over, with what was handed in along with it."""

    ticket: Ticket
    fired: Fired


@dataclass(eq=False)
class _Order(Generic[Ticket]):
    """A firing that was ordered.

    began_s: when it began.   broken_off: whether it was asked to return.   told: whether what came
    of it has been told, because it did not.
    """

    picture: ColourImage
    attempt: int
    ticket: Ticket
    began_s: float = 0.0
    broken_off: bool = False
    told: bool = False


class BackgroundTrigger(Generic[Ticket]):
    """Fires one after another; `poll` tells what is over. One that raises counts as failed.

    Whatever was ordered is told of exactly once, at the latest by `close`. A firing that passes the
    trigger's limit is broken off, and told as failed if even so it does not end: no call into a
    library or a driver can be trusted to return. What was ordered meanwhile fails with it; once it
    has returned after all, the trigger is fired again.
    """

    closing_problem = ""
    """What went wrong when the trigger was let go at the end, in one line; "" where nothing did."""

    def __init__(self, trigger: Trigger) -> None:
        self._trigger = trigger
        self._changed = threading.Condition()
        self._waiting: deque[_Order[Ticket]] = deque()
        self._at_work: _Order[Ticket] | None = None
        self._over: deque[Done[Ticket]] = deque()
        self._pending = 0
        self._closing = False
        # Not the thread's own join: interrupted, it takes a running thread for one that has ended.
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="trigger", daemon=True)
        self._thread.start()

    @property
    def pending(self) -> int:
        """How many firings `poll` has not told of yet."""
        return self._pending

    @property
    def needs_picture(self) -> bool:
        """Whether it is of no use without a fresh picture of the feed."""
        return self._trigger.needs_picture

    def fire(self, picture: ColourImage, attempt: int, ticket: Ticket) -> None:
        """Order a firing; returns at once. `picture` must not be changed afterwards."""
        with self._changed:
            self._pending += 1
            self._waiting.append(_Order(picture, attempt, ticket))
            self._changed.notify_all()

    def poll(self, wait_s: float = 0.0) -> list[Done[Ticket]]:
        """All that is over; waits up to `wait_s` for the first."""
        end_s = time.monotonic() + wait_s
        with self._changed:
            self._look_at_limit()
            while self._pending and not self._over and time.monotonic() < end_s:
                self._changed.wait(min(_LOOK_EVERY_S, wait_s))
                self._look_at_limit()
            return self._take_over()

    def close(self, wait_s: float) -> list[Done[Ticket]]:
        """End the thread; what is still going on gets `wait_s` in all. Returns all that was open.

        What is not over by then is broken off where it can be, and told of as unfinished: it cannot
        hold up the end of the program. An interrupt ends the wait.
        """
        interrupted = True
        with contextlib.suppress(KeyboardInterrupt):
            self._wait_for_end(wait_s)
            interrupted = False
        with self._changed:
            begun, unbegun = self._at_work, list(self._waiting)
            self._waiting.clear()
        if begun is not None and not begun.told:
            with contextlib.suppress(KeyboardInterrupt):
                self._trigger.abort(begun.attempt, _("with the run"))
                self._ended.wait(_LAST_WORD_S)
        with self._changed:
            hangs = self._at_work
            if hangs is not None:
                self._give_up(hangs, _("still under way when the run ended"))
            for order in unbegun:
                self._untried(order, _("the run had ended"))
            if not (self._ended.is_set() or hangs or interrupted):
                self.closing_problem = _(
                    "{trigger} had not let go when the run ended", trigger=self._kind
                )
            return self._take_over()

    def _wait_for_end(self, wait_s: float) -> None:
        """Wait until the thread has ended, or hangs, or `wait_s` is over."""
        end_s = time.monotonic() + wait_s
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        while not self._ended.wait(_LOOK_EVERY_S) and time.monotonic() < end_s:
            with self._changed:
                self._look_at_limit()
                if self._at_work is not None and self._at_work.told:
                    return

    @property
    def _kind(self) -> str:
        return type(self._trigger).__name__

    # -- with the lock held -------------------------------------------------------------------

    def _take_over(self) -> list[Done[Ticket]]:
        over = list(self._over)
        self._over.clear()
        self._pending -= len(over)
        return over

    def _give_up(self, order: _Order[Ticket], problem: str) -> None:
        """Tell of a firing that has not returned; what it returns later is too late."""
        if not order.told:
            order.told = True
            fired = self._trigger.given_up(order.attempt, problem)
            self._over.append(Done(order.ticket, fired))

    def _untried(self, order: _Order[Ticket], why: str) -> None:
        problem = _("not tried: {why}", why=why)
        fired = Fired(self._trigger.name, None, problem, trouble=Trouble.HANGS)
        self._over.append(Done(order.ticket, fired))

    def _look_at_limit(self) -> None:
        """Break the firing at work off at the limit, and give it up when that is of no use."""
        order = self._at_work
        if order is None:
            return
        limit_s = self._trigger.limit_s
        late_s = time.monotonic() - order.began_s - limit_s
        if late_s >= 0 and not order.broken_off:
            order.broken_off = True
            # On a thread of its own: ending a command takes a while, and nothing waits for it here.
            threading.Thread(
                target=self._trigger.abort,
                args=(
                    order.attempt,
                    _("after {seconds} s", seconds=current().decimal(f"{limit_s:g}")),
                ),
                name="trigger limit",
                daemon=True,
            ).start()
        if late_s >= self._trigger.last_word_s:
            self._give_up(
                order, _("not over after {seconds} s", seconds=current().decimal(f"{limit_s:g}"))
            )
        if order.told:
            while self._waiting:
                self._untried(
                    self._waiting.popleft(),
                    _("attempt {number} was not over yet", number=order.attempt),
                )

    # -- the trigger's thread -----------------------------------------------------------------

    def _run(self) -> None:
        try:
            while (order := self._next()) is not None:
                fired = self._fire(order)
                with self._changed:
                    self._at_work = None
                    if not order.told:
                        self._over.append(Done(order.ticket, fired))
                    self._changed.notify_all()
            self._trigger.close()
        except Exception as error:  # told with the run's outcome, as what goes wrong in firing is
            self.closing_problem = _(
                "{trigger} could not be let go at the end: {error}",
                trigger=self._kind,
                error=error,
            )
        finally:
            self._ended.set()

    def _next(self) -> _Order[Ticket] | None:
        """The next order, once there is one; None at the end."""
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._closing)
            if not self._waiting:
                return None
            order = self._at_work = self._waiting.popleft()
            order.began_s = time.monotonic()
            return order

    def _fire(self, order: _Order[Ticket]) -> Fired:
        try:
            return self._trigger.fire(order.picture, order.attempt)
        except Exception as error:  # a bug in one trigger must not end the run unrecorded
            problem = _("the trigger failed: {error}", error=error)
            return Fired(self._trigger.name, None, problem, trouble=Trouble.TRIGGER)
