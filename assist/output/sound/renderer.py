"""From cues and the countdown to samples, block by block, by a clock that is passed in."""

from __future__ import annotations

import contextlib
import math
import queue
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assist.guidance.countdown import CountdownState
from assist.output.sound import level, waves
from assist.output.sound.cues import Kind, SoundCue
from assist.output.sound.note_patterns import (
    BESIDE,
    LAST_TICK,
    LAST_TICKS,
    NOW,
    SIGNAL,
    TAKEN,
    TICK,
    TROUBLE,
    Note,
    note_pattern,
)
from assist.output.sound.sample_buffer import SampleBuffer
from optics.checks import FloatArray

Samples = NDArray[np.float32]

STALE_S = 0.5
"""Without news for so long, the cues fall silent rather than go on telling what may be untrue."""
_HALF_GRAIN_S = 0.05
_CUT_S = 0.01
_HUSH_S = 0.05
_LATE_S = 0.3
_BLOCK_S = 0.25
_LONGEST_S = 0.5


@dataclass(frozen=True, slots=True)
class _News:
    """What was told last. Replaced as a whole, so the sounding thread needs no lock to read it."""

    cue: SoundCue | None = None
    at_s: float = -math.inf
    zero_s: float | None = None
    fired: bool = False
    in_trouble: bool = False


class Renderer:
    """Renders what it was told last.

    `tell` is called by the thread that knows, `render` by the one that sounds. `clock` gives
    seconds that never go back, the same for both; in a test it may be `rendered_s` itself.
    `hushed`, asked once a block, lowers the cues while something else is to be heard. A signal
    lowers them by itself: the two never add up to more than the loudest cue.
    """

    def __init__(
        self,
        rate_hz: int = 48000,
        volume_percent: float = level.DEFAULT_VOLUME,
        clock: Callable[[], float] | None = None,
        hushed: Callable[[], bool] = lambda: False,
    ) -> None:
        self.rate_hz = rate_hz
        self._peak = level.amplitude(level.peak_dbfs(volume_percent))
        self._volume_percent, self._given_clock = volume_percent, clock
        self._clock = clock or (lambda: self.rendered_s)
        self._hushed = hushed
        self._news = _News()
        self._position = 0
        self._longest_block = round(_BLOCK_S * rate_hz)
        room = self._longest_block + round(_LONGEST_S * rate_hz)
        self._cues = SampleBuffer(room)
        self._signals = SampleBuffer(room)
        self._covers = SampleBuffer(room)  # how much of the cues the signals cover
        self._next_onset = 0
        self._kind: Kind | None = None
        self._gain = 1.0
        self._last_tick = math.inf
        self._rung_until = 0
        self._rung: queue.SimpleQueue[tuple[Note, ...]] = queue.SimpleQueue()

    @property
    def rendered_s(self) -> float:
        """Length of all that has been rendered, seconds."""
        return self._position / self.rate_hz

    def at_rate(self, rate_hz: int) -> Renderer:
        """Another one for another device, silent as yet.

        It sounds no picture taken, and no failure, that this one was told of before.
        """
        other = Renderer(rate_hz, self._volume_percent, self._given_clock, self._hushed)
        news = self._news
        other._news = _News(fired=news.fired, in_trouble=news.in_trouble)
        return other

    # -- the thread that knows ----------------------------------------------------------------

    def tell(
        self, cue: SoundCue | None, countdown: CountdownState | None, trouble: bool = False
    ) -> None:
        """What holds from now on; None for no cue, or for no countdown.

        trouble: whether something fails besides the picture; its beginning is sounded.
        """
        now_s, before = self._clock(), self._news
        fired = countdown is not None and countdown.fired and not countdown.trouble
        if fired and not before.fired:
            self.ring(NOW if countdown is not None and countdown.unheard else TAKEN)
        in_trouble = trouble or (countdown is not None and countdown.trouble)
        if in_trouble and not before.in_trouble:
            self.ring(TROUBLE)
        zero_s = None
        if countdown is not None and countdown.counting:
            zero_s = now_s + countdown.seconds_left
            if before.zero_s is not None and abs(zero_s - before.zero_s) < 0.15:
                # Pictures come unevenly; the ticks must not.
                zero_s = before.zero_s + 0.1 * (zero_s - before.zero_s)
        self._news = _News(cue, now_s, zero_s, fired, in_trouble)

    def ring(self, notes: tuple[Note, ...]) -> None:
        """Sound these notes once, as soon as those rung before are over."""
        self._rung.put(notes)

    # -- the thread that sounds ---------------------------------------------------------------

    def render(self, count: int) -> Samples:
        """The next `count` samples, from -1 to 1, never above the volume's level."""
        blocks = []
        while count > 0:
            blocks.append(self._block(min(count, self._longest_block)))
            count -= self._longest_block
        return np.concatenate(blocks) if blocks else np.zeros(0, np.float32)

    def _block(self, count: int) -> Samples:
        news, now_s = self._news, self._clock()
        stale = now_s - news.at_s > STALE_S
        self._schedule_cue(None if stale else news.cue, count)
        self._schedule_countdown(news, now_s, count)
        if self._position >= self._rung_until:
            with contextlib.suppress(queue.Empty):
                notes = self._rung.get_nowait()
                self._signal(notes, 0)
                length_s = notes[-1].at_s + notes[-1].seconds
                self._rung_until = self._position + round(length_s * self.rate_hz)
        target = BESIDE if self._hushed() else 1.0
        most = count / (_HUSH_S * self.rate_hz)
        gain = self._gain + min(max(target - self._gain, -most), most)
        block = self._cues.take(count) * np.linspace(self._gain, gain, count)
        block *= 1.0 - self._covers.take(count)
        block += self._signals.take(count)
        self._gain = gain
        self._position += count
        return np.clip(block * self._peak, -self._peak, self._peak).astype(np.float32)

    def _schedule_cue(self, cue: SoundCue | None, count: int) -> None:
        kind = None if cue is None else cue.kind
        if kind is not self._kind:
            self._kind = kind
            cut = round(_CUT_S * self.rate_hz)
            self._cues.cut(cut)
            self._next_onset = self._position + cut  # the two together would be too loud
        if cue is None:
            return
        made = note_pattern(cue)
        # A tempo that has quickened must not wait for the end of a slow beat.
        seconds = _HALF_GRAIN_S if made.endless else made.period_s
        period = round(seconds * self.rate_hz)
        self._next_onset = min(self._next_onset, self._position + period)
        while self._next_onset < self._position + count:
            offset = self._next_onset - self._position
            if made.endless:
                (note,) = made.notes
                grain = waves.grain(note.pitch_hz, self._next_onset, period, self.rate_hz)
                self._cues.put(note.part * grain, offset)
            else:
                for note in made.notes:
                    wave, _ = self._sound(note)
                    self._cues.put(wave, offset + round(note.at_s * self.rate_hz))
            self._next_onset += period

    def _sound(self, note: Note) -> tuple[FloatArray, FloatArray]:
        """A note's samples, and how loud they can be, from moment to moment."""
        loud = note.part * waves.envelope(note.seconds, note.struck, self.rate_hz)
        if note.sway_semitones:
            tone = waves.swaying(note.pitch_hz, note.sway_semitones, len(loud), self.rate_hz)
        else:
            tone = waves.tone(note.pitch_hz, 0, len(loud), self.rate_hz)
        return tone * loud, loud

    def _signal(self, notes: tuple[Note, ...], offset: int) -> None:
        """Sound these notes once, the cues under them."""
        for note in notes:
            wave, loud = self._sound(note)
            at = offset + round(note.at_s * self.rate_hz)
            self._signals.lay_over(wave, loud / SIGNAL, at)
            self._covers.lay_over(loud, loud / SIGNAL, at)

    def _schedule_countdown(self, news: _News, now_s: float, count: int) -> None:
        if news.zero_s is None:
            self._last_tick = math.inf
            return
        if news.zero_s - now_s > self._last_tick + 0.5:
            self._last_tick = math.inf  # begun again
        end_s = now_s + count / self.rate_hz
        for seconds in range(math.floor(news.zero_s - now_s + _LATE_S), 0, -1):
            due_s = news.zero_s - seconds
            if due_s >= end_s:
                break
            if seconds < self._last_tick:
                self._last_tick = seconds
                onset = max(0, round((due_s - now_s) * self.rate_hz))
                self._signal(LAST_TICK if seconds <= LAST_TICKS else TICK, onset)
