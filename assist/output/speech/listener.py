"""The spoken word as a listener of the run."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from assist.base.words import _
from assist.guidance.message import Message
from assist.output.speech.engines import Engine, NoSpeechError
from assist.output.speech.talk import Talk


class Speech:
    """Says what is worth saying, on a thread of its own.

    `engine` is made by that thread; without one, or when it fails, `note` gets one line and the run
    goes on unspoken.   first_said: what is said before all else.
    """

    def __init__(
        self,
        engine: Callable[[], Engine],
        note: Callable[[str], None],
        clock: Callable[[], float] = time.monotonic,
        first_said: str = "",
    ) -> None:
        self._talk = Talk()
        self._make_engine = engine
        self._note = note
        self._clock = clock
        self._changed = threading.Condition()
        self._engine: Engine | None = None
        self._first: str | None = first_said or None
        self._next: str | None = None
        self._speaking = False
        self._over = False
        self._thread = threading.Thread(target=self._run, name="speech", daemon=True)
        self._thread.start()

    @property
    def speaking(self) -> bool:
        """Whether something is being said, or about to be."""
        return self._speaking

    def hear(self, message: Message) -> None:
        """Say what is worth saying now."""
        if self._over:
            return
        said = self._talk.next(self._clock(), message, self._speaking)
        if said is None:
            return
        with self._changed:
            self._next = said.text  # one that was not begun yet is dropped: it is out of date
            self._speaking = True
            if said.interrupts and self._engine is not None:
                self._engine.stop()
            self._changed.notify_all()

    def close(self) -> None:
        """Be silent; safe to call twice."""
        with self._changed:
            self._over = True
            self._next = None
            if self._engine is not None:
                self._engine.close()
            self._changed.notify_all()
        self._thread.join(timeout=2.0)

    def _run(self) -> None:
        try:
            engine = self._make_engine()
            with self._changed:
                self._engine = engine
            while (sentence := self._wait()) is not None:
                engine.say(sentence)
        except NoSpeechError as error:
            if not self._over:
                self._note(_("no speech: {error}; the run goes on without", error=error))
        finally:
            self._over = True
            self._speaking = False

    def _wait(self) -> str | None:
        """The next sentence; None at the end."""
        with self._changed:
            if self._first is not None:
                first, self._first = self._first, None
                self._speaking = True
                return None if self._over else first
            self._speaking = self._next is not None
            self._changed.wait_for(lambda: self._over or self._next is not None)
            sentence, self._next = self._next, None
            return None if self._over else sentence
