"""The tones as a listener of the run."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

from assist.base.words import _
from assist.guidance.message import Message
from assist.guidance.teaching import Teaching
from assist.output.sound import level
from assist.output.sound.cues import CueMaker
from assist.output.sound.kept_open import KeptOpen, Opener
from assist.output.sound.note_patterns import BEGIN, END, TROUBLE
from assist.output.sound.output import Loudspeaker, device_rate_hz
from assist.output.sound.renderer import Renderer, Samples
from optics.focus_zone import FocusZone

_BACK_S = 1.0
"""Within so long the run tells that a device is back."""


class Tones:
    """Sounds every message's guidance and countdown; while there is no device it is mute.

    `note` takes one line for the user when the sound fails, `back` one when it is there again.
    `rate_hz` and `open_stream` stand for the device.
    """

    def __init__(
        self,
        zone: FocusZone,
        note: Callable[[str], None],
        volume_percent: float = level.DEFAULT_VOLUME,
        hushed: Callable[[], bool] = lambda: False,
        rate_hz: Callable[[], int] = device_rate_hz,
        open_stream: Opener = Loudspeaker,
        back: Callable[[str], None] = lambda _: None,
    ) -> None:
        self._cues = CueMaker(zone)
        self._note, self._back = note, back
        self._renderer = Renderer(
            volume_percent=volume_percent, clock=time.monotonic, hushed=hushed
        )
        self._teaching: Teaching | None = None
        self._away, self._back_s = False, -math.inf
        self._device = KeptOpen(rate_hz, open_stream, self._render_at)
        self._tell_of_device()

    def hear(self, message: Message) -> None:
        """Sound this from now on."""
        self._tell_of_device()
        self._ring_of(message.moment.teaching)
        cue = self._cues.cue(message.moment.guidance)
        # That there is no sound, or sound again, is told as trouble too, and must not sound as one.
        in_trouble = message.in_trouble or self._away or time.monotonic() - self._back_s < _BACK_S
        self._renderer.tell(cue, message.countdown, in_trouble)

    def _render_at(self, rate_hz: int) -> Callable[[int], Samples]:
        """A renderer for a device that is being opened; called on the device's thread."""
        self._renderer = self._renderer.at_rate(rate_hz)
        return self._renderer.render

    def _tell_of_device(self) -> None:
        change = self._device.look()
        if change is None:
            return
        self._away = bool(change.why)
        if not self._away:
            self._back_s = time.monotonic()
            self._back(_("sound is back"))
        elif change.for_good:
            self._note(_("no sound: {error}; the run goes on without", error=change.why))
        else:
            self._note(
                _("no sound: {error}; the run goes on, sound is tried again", error=change.why)
            )

    def _ring_of(self, teaching: Teaching | None) -> None:
        """The mark is being learned, is learned, or was not: the signals of `assist calibrate`."""
        if teaching is self._teaching:
            return
        begun = self._teaching in (Teaching.ASKED, Teaching.WATCHED)
        self._teaching = teaching
        if teaching is Teaching.TAUGHT:
            self._renderer.ring(END)
        elif teaching is not None and teaching.refused:
            self._renderer.ring(TROUBLE)
        elif teaching is not None and not begun:
            self._renderer.ring(BEGIN)

    def close(self) -> None:
        """Fall silent; safe to call twice."""
        self._device.close()
