"""The tones as a listener of the run."""

from __future__ import annotations

import time
from collections.abc import Callable

from assist.assistant import Moment
from assist.countdown import CountdownState
from assist.sound import level
from assist.sound.cues import CueMaker
from assist.sound.output import Loudspeaker, NoSoundError, Stream, device_rate_hz
from assist.sound.renderer import Renderer, Samples
from optics.lens import DepthOfField

Opener = Callable[[Callable[[int], Samples], int], Stream]


class Tones:
    """Sounds every moment's guidance and countdown. Without a device it notes so once, and is mute.

    `note` takes one line for the user. `rate_hz` and `open_stream` stand for the device.
    """

    def __init__(
        self,
        zone: DepthOfField,
        note: Callable[[str], None],
        volume_percent: float = level.DEFAULT_VOLUME,
        hushed: Callable[[], bool] = lambda: False,
        rate_hz: Callable[[], int] = device_rate_hz,
        open_stream: Opener = Loudspeaker,
    ) -> None:
        self._cues = CueMaker(zone)
        self._note = note
        self._renderer: Renderer | None = None
        self._stream: Stream | None = None
        try:
            self._renderer = Renderer(rate_hz(), volume_percent, time.monotonic, hushed)
            self._stream = open_stream(self._renderer.render, self._renderer.rate_hz)
        except NoSoundError as error:
            note(f"no sound: {error}; the run goes on without")

    def hear(self, moment: Moment, countdown: CountdownState | None) -> None:
        """Sound this from now on."""
        if self._stream is None or self._renderer is None:
            return
        if not self._stream.alive:
            self.close()
            self._note("no sound: the device has gone; the run goes on without")
            return
        self._renderer.tell(self._cues.cue(moment.guidance), countdown)

    def close(self) -> None:
        """Fall silent; safe to call twice."""
        if self._stream is not None:
            self._stream.close()
            self._stream = None
