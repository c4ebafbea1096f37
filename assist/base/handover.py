"""Handing things from one thread to the next: every one in turn, or only ever the newest.

`Handover` stands between the two threads; `Supplier` is the first of them with its handover.
"""

from __future__ import annotations

import threading
from abc import abstractmethod
from collections import deque
from collections.abc import Callable
from typing import Any, Generic, TypeVar

from assist.base.closing import Closing

Item = TypeVar("Item")
Own = TypeVar("Own", bound="Supplier[Any]")


class Handover(Generic[Item]):
    """Between one thread that puts and one that takes; nothing can pile up in it.

    `room`: how many may wait before `put` has to; None where only the newest counts, and `put`
    replaces what was not taken in time.
    """

    def __init__(self, room: int | None) -> None:
        self._room = room
        self._items: deque[Item] = deque()
        self._changed = threading.Condition()
        self._ended = False
        self._closed = False
        self._error: BaseException | None = None

    # -- the thread that puts -----------------------------------------------------------------

    def put(self, item: Item) -> None:
        """Hand it over; waits for room where every one counts."""
        with self._changed:
            if self._room is None:
                self._items.clear()
            else:
                room = self._room
                self._changed.wait_for(lambda: self._closed or len(self._items) < room)
            self._items.append(item)
            self._changed.notify_all()

    def end(self, error: BaseException | None = None) -> None:
        """There is no more to come; `error` is raised where the things are taken."""
        with self._changed:
            self._ended = True
            self._error = error
            self._changed.notify_all()

    def pause(self, seconds: float) -> None:
        """Let time pass, unless nothing is wanted any more."""
        with self._changed:
            self._changed.wait_for(lambda: self._closed, timeout=max(0.0, seconds))

    # -- the thread that takes ----------------------------------------------------------------

    def take(self, timeout_s: float) -> Item | None:
        """The next one; None when none came in time or there is no more.

        Raises what the other thread ended with.
        """
        with self._changed:
            self._changed.wait_for(lambda: self._items or self._ended, timeout=timeout_s)
            if self._items:
                item = self._items.popleft()
                self._changed.notify_all()
                return item
            if self._error is not None:
                error, self._error = self._error, None
                raise error
            return None

    @property
    def waiting(self) -> bool:
        """Whether one has been put that is not taken yet."""
        return bool(self._items)

    @property
    def ended(self) -> bool:
        """Whether the last one has been taken."""
        with self._changed:
            return self._ended and not self._items

    def close(self) -> None:
        """Nothing more is wanted: nobody waits for room any longer."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    @property
    def closed(self) -> bool:
        """Whether nothing more is wanted."""
        return self._closed


def until_closed(handover: Handover[Item], make: Callable[[], Item | None]) -> None:
    """Put what `make` gives until it gives None or nothing more is wanted; what it raises ends it.

    The whole of a thread that makes things.
    """
    error: BaseException | None = None
    try:
        while not handover.closed and (item := make()) is not None:
            handover.put(item)
    except Exception as raised:  # raised again where the things are taken
        error = raised
    finally:
        handover.end(error)


class Supplier(Closing, Generic[Item]):
    """Makes things on a thread of its own, from the entering of its `with` block to the leaving.

    name: the thread's.   room: as of `Handover`.   leaving_s: how long leaving may wait for the
    thing in hand. The thread is a daemon: what hangs must not hold up the end of the program.
    """

    def __init__(self, name: str, room: int | None, leaving_s: float) -> None:
        self._made: Handover[Item] = Handover(room)
        self._leaving_s = leaving_s
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    @abstractmethod
    def _next(self) -> Item | None:
        """Make the next thing, on the thread; None when there are no more."""

    def _run(self) -> None:
        until_closed(self._made, self._next)

    @property
    def ended(self) -> bool:
        """Whether the last thing has been handed out."""
        return self._made.ended

    @property
    def at_work(self) -> bool:
        """Whether the thread is still running."""
        return self._thread.is_alive()

    def close(self) -> None:
        """Stop the thread, after the thing in hand; safe to call twice."""
        self._made.close()
        if self.at_work:
            self._thread.join(timeout=self._leaving_s)

    def __enter__(self: Own) -> Own:
        self._thread.start()
        return self
