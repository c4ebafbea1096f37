"""Listeners: whatever tells the person something - screen, tones, speech, telephone, terminal.

The run hands each of them the same message, picture by picture, and knows nothing of how they tell
it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable
from typing import Literal, Protocol

from assist.base.closing import Closing
from assist.base.words import _
from assist.guidance.message import Message


class Listener(Protocol):
    """Hears every message of a run.

    `hear` is called on the run's own thread, the screen's first: any other must return within a
    millisecond or so. None may raise for anything that can happen in the field. While no picture
    comes it is called all the same, ten times a second: with the last moment's until that is half a
    second old, then with one that says that nothing comes (of a feed that has not begun, after a
    second and a half). Only a run that hangs calls nobody: a listener that would go on telling old
    news has to fall silent by its own clock.
    """

    def hear(self, message: Message) -> None:
        """What is to be told now."""
        ...

    def close(self) -> None:
        """Stop and free everything; safe to call twice."""
        ...


Order = Literal["mark", "who"]
"""What the person may say on a screen of their own: "I'm on the mark"; "that's me", of the next one
in view."""


class Remote(Listener, Protocol):
    """A listener on which the person can give orders too."""

    def orders(self) -> list[Order]:
        """What has been ordered since the last call."""
        ...


class Listeners(Closing):
    """Several listeners as one. A context manager that closes them all, the last one first.

    `note` takes one line for the user.
    """

    def __init__(
        self, listeners: Iterable[Listener] = (), note: Callable[[str], None] = lambda _: None
    ) -> None:
        self._listeners = tuple(listeners)
        self._hearing = list(self._listeners)
        self._note = note

    def hear(self, message: Message) -> None:
        """Tell each of them. One that raises is told no more, and `note` gets a line about it."""
        for listener in tuple(self._hearing):
            try:
                listener.hear(message)
            except Exception as error:  # a bug in one must not end the run
                self._hearing.remove(listener)
                self._note(
                    _(
                        "{part} failed and is left out: {error}",
                        part=type(listener).__name__,
                        error=error,
                    )
                )

    def close(self) -> None:
        """Close each of them, even if another fails to."""
        with contextlib.ExitStack() as stack:
            for listener in self._listeners:
                stack.callback(listener.close)
