"""The loudspeaker, where there is one."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any, Protocol

from assist.base.words import _
from assist.output.sound.renderer import Samples

LATENCY_S = 0.1
"""Asked of the driver: enough that a busy pose network makes no gaps, too little to notice beside a
person's own reaction of about 0.2 s (common practice, no source)."""


class NoSoundError(Exception):
    """There is nothing to sound through; the message says why, in one line.

    for_good: whether nothing that is plugged in or started later would change that.
    """

    def __init__(self, why: str, *, for_good: bool = False) -> None:
        super().__init__(why)
        self.for_good = for_good


class Stream(Protocol):
    """A running output. `alive` turns false when the device has gone."""

    @property
    def alive(self) -> bool:
        """Whether it still sounds."""
        ...

    def close(self) -> None:
        """Stop; safe to call twice."""
        ...


def device_rate_hz() -> int:
    """The sample rate that the default output likes. Raises NoSoundError where there is none."""
    library = _library()
    try:
        return round(float(library.query_devices(kind="output")["default_samplerate"]))
    except (library.PortAudioError, ValueError) as error:
        _look_again(library)
        raise NoSoundError(_("there is no output device")) from error


class Loudspeaker:
    """The default output device, fed by a callback that only renders the next block.

    `render` is called on the device's own thread.
    """

    def __init__(self, render: Callable[[int], Samples], rate_hz: int) -> None:
        library = _library()

        def fill(out: Any, count: int, _time: object, _status: object) -> None:
            out[:, 0] = render(count)

        try:
            self._stream = library.OutputStream(
                samplerate=rate_hz, channels=1, dtype="float32", latency=LATENCY_S, callback=fill
            )
            self._stream.start()
        except (library.PortAudioError, ValueError) as error:
            _look_again(library)
            raise NoSoundError(_one_line(error)) from error
        self._error = library.PortAudioError

    @property
    def alive(self) -> bool:
        """Whether the device still takes samples."""
        try:
            return bool(self._stream.active)
        except self._error:
            return False

    @property
    def latency_s(self) -> float:
        """Time from rendering to sounding, as the driver states it, seconds."""
        return float(self._stream.latency)

    def close(self) -> None:
        """Stop; safe to call twice."""
        try:
            self._stream.close(ignore_errors=True)
        except self._error:
            return


def _library() -> Any:
    """The sound library; it raises OSError where it finds no PortAudio to load."""
    try:
        import sounddevice  # noqa: PLC0415
    except ImportError as error:
        why = _("the package sounddevice is not installed")
        raise NoSoundError(why, for_good=True) from error
    except OSError as error:
        why = _("the PortAudio library is missing (Debian and Ubuntu: apt install libportaudio2)")
        raise NoSoundError(why, for_good=True) from error
    return sounddevice


def _look_again(library: Any) -> None:
    """Have PortAudio, which lists devices only when it starts, see what there is at the next try.

    No stream may be open meanwhile.
    """
    with contextlib.suppress(library.PortAudioError):
        library._terminate()
    with contextlib.suppress(library.PortAudioError):
        library._initialize()


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split()) or type(error).__name__
