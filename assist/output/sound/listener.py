"""The tones as a listener of the run."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from assist.base.words import _
from assist.guidance.message import Message
from assist.guidance.teaching import Teaching
from assist.output.sound import level
from assist.output.sound.cues import CueMaker
from assist.output.sound.note_patterns import BEGIN, END, TROUBLE
from assist.output.sound.output import Loudspeaker, NoSoundError, Stream, device_rate_hz
from assist.output.sound.renderer import Renderer, Samples
from optics.focus_zone import FocusZone

_UNASKED_S = 1.0
_UNASKED_HEARS = 8

Opener = Callable[[Callable[[int], Samples], int], Stream]


class Tones:
    """Sounds every message's guidance and countdown; without a device it notes so, and is mute.

    `note` takes one line for the user. `rate_hz` and `open_stream` stand for the device.
    """

    def __init__(
        self,
        zone: FocusZone,
        note: Callable[[str], None],
        volume_percent: float = level.DEFAULT_VOLUME,
        hushed: Callable[[], bool] = lambda: False,
        rate_hz: Callable[[], int] = device_rate_hz,
        open_stream: Opener = Loudspeaker,
    ) -> None:
        self._cues = CueMaker(zone)
        self._note = note
        self._renderer: Renderer | None = None
        self._teaching: Teaching | None = None
        self._stream: Stream | None = None
        self._asked = 0
        self._last_asked = 0
        self._unasked_hears = 0
        self._unasked_since_s = time.monotonic()
        try:
            self._renderer = Renderer(rate_hz(), volume_percent, time.monotonic, hushed)
            self._stream = open_stream(self._render, self._renderer.rate_hz)
        except NoSoundError as error:
            note(_("no sound: {error}; the run goes on without", error=error))

    def hear(self, message: Message) -> None:
        """Sound this from now on."""
        if self._stream is None or self._renderer is None:
            return
        if not self._stream.alive or self._unasked():
            self._let_go()
            self._note(_("no sound: the device has gone; the run goes on without"))
            return
        self._ring_of(message.moment.teaching)
        cue = self._cues.cue(message.moment.guidance)
        self._renderer.tell(cue, message.countdown, message.in_trouble)

    def _ring_of(self, teaching: Teaching | None) -> None:
        """The mark is being learned, is learned, or was not: the signals of `assist calibrate`."""
        if teaching is self._teaching or self._renderer is None:
            return
        begun = self._teaching in (Teaching.ASKED, Teaching.WATCHED)
        self._teaching = teaching
        if teaching is Teaching.TAUGHT:
            self._renderer.ring(END)
        elif teaching is not None and teaching.refused:
            self._renderer.ring(TROUBLE)
        elif teaching is not None and not begun:
            self._renderer.ring(BEGIN)

    def _render(self, count: int) -> Samples:
        self._asked += 1
        assert self._renderer is not None
        return self._renderer.render(count)

    def _unasked(self) -> bool:
        """Whether the device has asked for no samples for long, as some do that have gone.

        A run that itself stood still proves nothing: it must have been told things meanwhile.
        """
        now_s = time.monotonic()
        if self._asked != self._last_asked:
            self._last_asked, self._unasked_hears, self._unasked_since_s = self._asked, 0, now_s
            return False
        self._unasked_hears += 1
        return self._unasked_hears > _UNASKED_HEARS and now_s - self._unasked_since_s > _UNASKED_S

    def _let_go(self) -> None:
        """Close the device without waiting: a driver whose device has gone may never return."""
        stream, self._stream = self._stream, None
        if stream is not None:
            threading.Thread(target=stream.close, name="sound end", daemon=True).start()

    def close(self) -> None:
        """Fall silent; safe to call twice."""
        if self._stream is not None:
            self._stream.close()
            self._stream = None
