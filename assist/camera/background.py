"""Firing without holding up the screen: a trigger on a thread of its own, asked later."""

from __future__ import annotations

import contextlib
import threading
import time
from collections import deque
from dataclasses import dataclass, field, replace
from typing import Generic, TypeVar

from assist.base.images import ColourImage
from assist.base.trouble import Trouble
from assist.base.words import _, current
from assist.camera.trigger import Fired, Trigger

Ticket = TypeVar("Ticket")

_LAST_WORD_S = 3.0
"""How long, at the end, a firing that was broken off gets to say what came of it."""
_LOOK_EVERY_S = 0.05
_IDLE_EVERY_S = 0.25
_MORE_WITHIN_S = 3.0
"""How long files are left where they are for another picture of the burst."""


@dataclass(frozen=True, slots=True)
class Done(Generic[Ticket]):
    """A firing that is over, with what was handed in along with it.

    late_s: how much later than it was ordered the shutter was released, as far as is known.
    released_s: when that was, by `time.monotonic`; None where that is not known.
    """

    ticket: Ticket
    fired: Fired
    late_s: float = 0.0
    released_s: float | None = None


@dataclass(eq=False)
class _Order(Generic[Ticket]):
    """A firing that was ordered.

    began_s: when it began.   broken_off: whether it was asked to return.   told: whether what came
    of it has been told, because it did not.   more: whether another one follows within a moment.
    ordered_s: when it was ordered.   fired: what is known of it once files are all that is missing.
    """

    picture: ColourImage
    attempt: int
    ticket: Ticket
    more: bool = False
    ordered_s: float = field(default_factory=time.monotonic)
    fired: Fired | None = None
    began_s: float = 0.0
    broken_off: bool = False
    told: bool = False


class BackgroundTrigger(Generic[Ticket]):
    """Fires one after another; `poll` tells what is over. One that raises counts as failed.

    Whatever was ordered is told of exactly once, at the latest by `close`. A firing that passes the
    trigger's limit is broken off, and told as failed if even so it does not end: no call into a
    library or a driver can be trusted to return. What was ordered meanwhile fails with it; once it
    has returned after all, the trigger is fired again.

    Pictures of a burst are fired first; what has to be fetched is fetched after the last.
    """

    closing_problem = ""
    """What went wrong when the trigger was let go at the end, in one line; "" where nothing did."""

    def __init__(self, trigger: Trigger) -> None:
        self._trigger = trigger
        self._changed = threading.Condition()
        self._waiting: deque[_Order[Ticket]] = deque()
        self._at_work: _Order[Ticket] | None = None
        self._unfetched: deque[_Order[Ticket]] = deque()
        self._idle_since_s: float | None = None
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

    def fire(
        self, picture: ColourImage, attempt: int, ticket: Ticket, *, more: bool = False
    ) -> None:
        """Order a firing; returns at once. `picture` must not be changed afterwards.

        more: whether another one is to follow within a moment.
        """
        with self._changed:
            self._pending += 1
            self._waiting.append(_Order(picture, attempt, ticket, more))
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
            while self._unfetched:
                self._give_up(self._unfetched.popleft(), _("the run had ended"))
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
            self._tell(order, fired)

    def _tell(self, order: _Order[Ticket], fired: Fired) -> None:
        released_s = fired.released_s
        if released_s is None and order.fired is not None:
            released_s = order.fired.released_s
        late_s = 0.0 if released_s is None else max(0.0, released_s - order.ordered_s)
        self._over.append(Done(order.ticket, fired, late_s, released_s))

    def _untried(self, order: _Order[Ticket], why: str) -> None:
        problem = _("not tried: {why}", why=why)
        fired = Fired(self._trigger.name, None, problem, trouble=Trouble.HANGS)
        self._over.append(Done(order.ticket, fired))

    def _look_at_limit(self) -> None:
        """Break the firing at work off at the limit, and give it up when that is of no use."""
        order = self._at_work
        if order is None:
            since_s = self._idle_since_s
            if since_s is not None and time.monotonic() - since_s > self._trigger.limit_s:
                while self._waiting:
                    self._untried(self._waiting.popleft(), _("the camera does not answer"))
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
            while self._unfetched:
                self._give_up(
                    self._unfetched.popleft(),
                    _("attempt {number} was not over yet", number=order.attempt),
                )

    # -- the trigger's thread -----------------------------------------------------------------

    def _run(self) -> None:
        try:
            while self._serve_next():
                pass
            self._trigger.close()
        except Exception as error:  # told with the run's outcome, as what goes wrong in firing is
            self.closing_problem = _(
                "{trigger} could not be let go at the end: {error}",
                trigger=self._kind,
                error=error,
            )
        finally:
            self._ended.set()

    def _serve_next(self) -> bool:
        """Fire, fetch or idle, whichever is next; False at the end."""
        with self._changed:
            self._changed.wait_for(
                lambda: self._waiting or self._closing or self._may_fetch, _IDLE_EVERY_S
            )
            order = self._next()
            if order is None and self._closing:
                return False
            now_s = time.monotonic()
            if order is None:
                self._idle_since_s = None if self._unfetched else now_s
            else:
                order.began_s = now_s
            self._at_work = order
        if order is None:
            if self._idle_since_s is not None:
                self._rest()
            return True
        fired = self._work(order)
        with self._changed:
            self._at_work = None
            if fired.to_fetch and not order.told and not order.broken_off:
                order.fired = fired
                self._unfetched.append(order)
            elif not order.told:
                self._tell(order, replace(fired, to_fetch=False))
            self._changed.notify_all()
        return True

    def _next(self) -> _Order[Ticket] | None:
        """What is to be fired, or else fetched; None where that is nothing yet."""
        if self._waiting:
            return self._waiting.popleft()
        return self._unfetched.popleft() if self._may_fetch else None

    @property
    def _may_fetch(self) -> bool:
        """Whether there are files to fetch, and no further picture of the burst is awaited."""
        if not self._unfetched:
            return False
        last = self._unfetched[-1]
        waited_s = time.monotonic() - last.ordered_s
        return self._closing or not last.more or waited_s > _MORE_WITHIN_S

    def _rest(self) -> None:
        try:
            self._trigger.idle()
        finally:
            with self._changed:
                self._idle_since_s = None

    def _work(self, order: _Order[Ticket]) -> Fired:
        try:
            if order.fired is not None:
                return self._trigger.fetch(replace(order.fired, to_fetch=False), order.attempt)
            return self._trigger.fire(order.picture, order.attempt)
        except Exception as error:  # a bug in one trigger must not end the run unrecorded
            problem = _("the trigger failed: {error}", error=error)
            return Fired(self._trigger.name, None, problem, trouble=Trouble.TRIGGER)
