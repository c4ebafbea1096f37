"""A sound device that is opened again whenever it has gone.

Opening and closing happen on a thread of its own, which may hang in the driver for ever: then there
is no sound, and nothing else waits.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from assist.base.closing import Closing
from assist.base.words import _
from assist.output.sound.output import NoSoundError, Stream
from assist.output.sound.renderer import Samples

AGAIN_EVERY_S = 1.0
UNASKED_S = 4.0
"""For so long a device may ask for no samples, when it has been opened and later on: through a
PulseAudio null sink under load gaps of 1.9 s were seen in both cases."""
_UNASKED_LOOKS = 8
_LOOK_EVERY_S = 0.1
_FIRST_S = 1.0
_LAST_S = 2.0

Render = Callable[[int], Samples]
Opener = Callable[[Render, int], Stream]


@dataclass(frozen=True, slots=True)
class Change:
    """What has become of the device. why: what is wrong, "" where there is sound again.

    for_good: whether it is not tried again.
    """

    why: str = ""
    for_good: bool = False


class _Try:
    """One opening of the device, and how often that has asked for samples."""

    def __init__(self) -> None:
        self.began_s = time.monotonic()
        self.asked = 0
        self.failed: NoSoundError | None = None
        self.gone = False
        self.let_go = threading.Event()
        self.settled = threading.Event()


class KeptOpen(Closing):
    """Keeps a device open, and says what becomes of it.

    rate_hz: the rate that the device likes now.   renderer: makes what renders at that rate.
    """

    def __init__(
        self,
        rate_hz: Callable[[], int],
        open_stream: Opener,
        renderer: Callable[[int], Render],
    ) -> None:
        self._rate_hz = rate_hz
        self._open_stream = open_stream
        self._renderer = renderer
        self._over = threading.Event()
        self._try = first = _Try()
        self._away = False
        self._seen: tuple[_Try, int] = (first, 0)
        self._looks = 0
        self._unasked_since_s = first.began_s
        self._thread = threading.Thread(target=self._keep, name="sound device", daemon=True)
        self._thread.start()
        first.settled.wait(_FIRST_S)

    # -- the run's thread ---------------------------------------------------------------------

    def look(self) -> Change | None:
        """What has changed since the last look, if anything; to be called ten times a second.

        A run that itself stood still proves nothing: it must have looked meanwhile.
        """
        now_s, current = time.monotonic(), self._try
        if self._seen != (current, current.asked):
            asked = current.asked > 0
            self._seen, self._looks = (current, current.asked), 0
            self._unasked_since_s = now_s if asked else current.began_s
            if asked and self._away:
                self._away = False
                return Change()
        self._looks += 1
        why = self._wrong(current, now_s)
        if not why:
            return None
        current.let_go.set()
        if self._away:
            return None
        self._away = True
        return Change(why, current.failed is not None and current.failed.for_good)

    def _wrong(self, current: _Try, now_s: float) -> str:
        if current.failed is not None:
            return str(current.failed)
        unasked = self._looks > _UNASKED_LOOKS and now_s - self._unasked_since_s > UNASKED_S
        if current.gone or (unasked and current.asked):
            return _("the device has gone")
        return _("the device does not answer") if unasked else ""

    def close(self) -> None:
        """Let the device go, without waiting for a driver that hangs; safe to call twice."""
        self._over.set()
        self._try.let_go.set()
        self._thread.join(_LAST_S)

    # -- the device's thread ------------------------------------------------------------------

    def _keep(self) -> None:
        current = self._try
        while True:
            try:
                self._hold(current)
            except NoSoundError as error:
                current.failed = error
                current.settled.set()
                if error.for_good:
                    return
            if self._over.wait(AGAIN_EVERY_S):
                return
            self._try = current = _Try()

    def _hold(self, current: _Try) -> None:
        """Open the device, and close it once it has gone or is to be let go."""
        rate_hz = self._rate_hz()
        render = self._renderer(rate_hz)

        def count(samples: int) -> Samples:
            current.asked += 1
            return render(samples)

        stream = self._open_stream(count, rate_hz)
        current.settled.set()
        while not (self._over.is_set() or current.let_go.wait(_LOOK_EVERY_S)):
            if not stream.alive:
                current.gone = True
                break
        stream.close()
