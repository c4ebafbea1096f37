"""What the sounds are made of: notes, as numbers. The renderer and the second screen sound them.

A cue's figure is sounded again and again for as long as the cue holds. What differs in meaning
differs in pattern or in pitch, never in loudness alone, which changes with every step and turn:
one note (too far), two that fall (too near), three quick ones (stop), one without end (in focus), a
note that wavers (not sure), four in turn high and low (cut off), a long and a short one that rise
or fall (right, left), two low and one high (go round), a low note now and then (no one). None of
them is left so soft that someone who walks five metres away would miss it.
"""

from __future__ import annotations

from dataclasses import dataclass

from assist.output.sound.cues import Kind, SoundCue


@dataclass(frozen=True, slots=True)
class Note:
    """One note.

    at_s: its beginning, from that of the figure.   part: its peak, in parts of the volume's level.
    struck: whether it dies away from its beginning on, instead of being held.
    sway_semitones: how far its pitch goes up, down and back again meanwhile.
    """

    at_s: float
    seconds: float
    pitch_hz: float
    part: float
    struck: bool = False
    sway_semitones: float = 0.0


@dataclass(frozen=True, slots=True)
class NotePattern:
    """Notes, and after how long they are sounded anew; 0 for one note that never ends."""

    notes: tuple[Note, ...]
    period_s: float

    @property
    def endless(self) -> bool:
        """Whether it is one note without end."""
        return self.period_s == 0.0


BESIDE = 0.2
"""What is left of a cue while something else is to be heard: a signal, or speech."""
SIGNAL = 1.0 - BESIDE
"""Peak of the signals, so that a cue and a signal together stay within the volume's level."""
LAST_TICKS = 3
NOTE_S = 0.16

_STEADY = 0.6
"""A tone without end is louder to the ear than short ones of the same peak, and wears on it."""
_PULSE_S = 0.12
_QUICK_S, _QUICK_STEP_S = 0.06, 0.09
_PAIR_S, _PAIR_STEP_S, _PAIR_FALL = 0.08, 0.12, 2.0 ** (-3 / 12)
_SWAY, _SWAY_S, _SWAY_SEMITONES = 0.7, 0.36, 4.0
_WIDE = 2.0 ** (5 / 12)
"""How far above and below the mark's pitch the notes of the other figures lie."""
_WARBLE_S = 0.08
_LONG_S, _SHORT_S, _SHORT_AT_S = 0.3, 0.1, 0.34
_ROUND = ((0.0, 0.08), (0.13, 0.08), (0.3, 0.24))
_ALONE_S = 0.4


def note_pattern(cue: SoundCue) -> NotePattern:
    """The notes of a cue."""
    pitch_hz = cue.pitch_hz
    if cue.kind is Kind.STEADY:
        return NotePattern((Note(0.0, 0.0, pitch_hz, _STEADY),), 0.0)
    period_s = 1.0 / cue.tempo_hz
    notes: tuple[Note, ...]
    if cue.kind is Kind.SINGLE:
        notes = (Note(0.0, min(_PULSE_S, 0.45 * period_s), pitch_hz, 1.0),)
    elif cue.kind is Kind.DOUBLE:
        notes = (
            Note(0.0, _PAIR_S, pitch_hz, 1.0),
            Note(_PAIR_STEP_S, _PAIR_S, _PAIR_FALL * pitch_hz, 1.0),
        )
    elif cue.kind is Kind.STOP:
        notes = tuple(Note(n * _QUICK_STEP_S, _QUICK_S, pitch_hz, 1.0) for n in range(3))
    elif cue.kind is Kind.FRAME:
        notes = tuple(
            Note(n * _WARBLE_S, _WARBLE_S, pitch_hz * (1 / _WIDE if n % 2 else _WIDE), 1.0)
            for n in range(4)
        )
    elif cue.kind in (Kind.LEFT, Kind.RIGHT):
        first = _WIDE if cue.kind is Kind.LEFT else 1 / _WIDE
        notes = (
            Note(0.0, _LONG_S, first * pitch_hz, 1.0),
            Note(_SHORT_AT_S, _SHORT_S, pitch_hz / first, 1.0),
        )
    elif cue.kind is Kind.ROUND:
        pitches = (pitch_hz / _WIDE, pitch_hz / _WIDE, pitch_hz * _WIDE)
        notes = tuple(
            Note(at_s, seconds, pitch, 1.0)
            for (at_s, seconds), pitch in zip(_ROUND, pitches, strict=True)
        )
    elif cue.kind is Kind.DOUBT:
        notes = (Note(0.0, _SWAY_S, pitch_hz, _SWAY, sway_semitones=_SWAY_SEMITONES),)
    else:
        notes = (Note(0.0, _ALONE_S, pitch_hz, 1.0, struck=True),)
    return NotePattern(notes, period_s)


def _tune(pitches_hz: tuple[float, ...], seconds_each: float) -> tuple[Note, ...]:
    return tuple(
        Note(n * seconds_each, seconds_each, pitch_hz, SIGNAL)
        for n, pitch_hz in enumerate(pitches_hz)
    )


TICK = (Note(0.0, 0.06, 1000.0, SIGNAL, struck=True),)
LAST_TICK = (Note(0.0, 0.06, 1500.0, SIGNAL, struck=True),)
"""Of the countdown's seconds; the last three are higher."""
TAKEN = _tune((784.0, 988.0, 1175.0), 0.12)
NOW = _tune((1175.0,), 0.48)
TROUBLE = _tune((523.0, 415.0, 330.0), NOTE_S)
"""Three notes up: taken. One long high one: the camera's own timer takes it about now, and nobody
tells whether it did. Three down: it failed."""
BEGIN, END = _tune((587.0, 880.0), NOTE_S), _tune((880.0, 587.0), NOTE_S)
"""Two notes up: it begins. Two down: it is over."""
