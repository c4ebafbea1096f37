"""Begin and end told by ear, to someone who stands metres away and looks at the camera."""

from __future__ import annotations

import time
from collections.abc import Callable

from assist.base.closing import Closing
from assist.base.words import _
from assist.output.sound import level
from assist.output.sound.note_patterns import BEGIN, END, Note
from assist.output.sound.output import (
    LATENCY_S,
    Loudspeaker,
    NoSoundError,
    Stream,
    device_rate_hz,
)
from assist.output.sound.renderer import Renderer, Samples


class Signals(Closing):
    """Sounds the two signals at once. Without a device it notes so once, and is mute.

    `note` takes one line for the user. `rate_hz` and `open_stream` stand for the device.
    """

    def __init__(
        self,
        note: Callable[[str], None],
        volume_percent: float = level.DEFAULT_VOLUME,
        rate_hz: Callable[[], int] = device_rate_hz,
        open_stream: Callable[[Callable[[int], Samples], int], Stream] = Loudspeaker,
    ) -> None:
        self._stream: Stream | None = None
        self._until_s = 0.0
        try:
            self._renderer = Renderer(rate_hz(), volume_percent)
            self._stream = open_stream(self._renderer.render, self._renderer.rate_hz)
        except NoSoundError as error:
            note(_("no sound: {error}; watch the screen", error=error))

    def begin(self) -> None:
        """Two notes up."""
        self._ring(BEGIN)

    def end(self) -> None:
        """Two notes down."""
        self._ring(END)

    def _ring(self, notes: tuple[Note, ...]) -> None:
        if self._stream is not None:
            self._renderer.ring(notes)
            length_s = notes[-1].at_s + notes[-1].seconds
            self._until_s = time.monotonic() + length_s + 2 * LATENCY_S

    def close(self) -> None:
        """Fall silent, once the last signal has been heard; safe to call twice."""
        stream, self._stream = self._stream, None
        if stream is not None:
            time.sleep(max(0.0, self._until_s - time.monotonic()))
            stream.close()
