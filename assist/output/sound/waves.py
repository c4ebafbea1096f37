"""The shapes of single sounds. Every one begins and ends at nothing, so that none can click.

All return float64 samples with peaks within -1 to 1; times are seconds.
"""

from __future__ import annotations

import numpy as np

from optics.checks import FloatArray

OVERTONES = (1.0, 0.25, 0.12)
"""Fundamental and two overtones, so that a small loudspeaker still gives a low note its pitch."""
HELD_RAMPS_S, STRUCK_RAMPS_S = (0.008, 0.025), (0.002, 0.010)
"""How long the rise and the fall of a note take."""
DECAY = 5.0
"""A note that is struck dies away by e to this power."""

_ANGLE = np.linspace(0.0, 2.0 * np.pi, 4096, endpoint=False)


def _overtoned(angle: FloatArray) -> FloatArray:
    return np.asarray(sum(part * np.sin((n + 1) * angle) for n, part in enumerate(OVERTONES)))


_PEAK = float(np.abs(_overtoned(_ANGLE)).max())


def _count(seconds: float, rate_hz: float) -> int:
    return max(2, round(seconds * rate_hz))


def tone(pitch_hz: float, first_sample: int, count: int, rate_hz: float) -> FloatArray:
    """A tone without beginning or end, its phase counted from sample 0 of all time.

    Two stretches of the same pitch therefore fit together wherever they are cut.
    """
    turns = (np.arange(first_sample, first_sample + count) * (pitch_hz / rate_hz)) % 1.0
    return _overtoned(np.asarray(2.0 * np.pi * turns, np.float64)) / _PEAK


def swaying(pitch_hz: float, semitones: float, count: int, rate_hz: float) -> FloatArray:
    """A tone whose pitch goes up by so much, down by so much, and back again."""
    part = (np.arange(count) + 0.5) / count
    pitches_hz = pitch_hz * 2.0 ** (semitones / 12.0 * np.sin(2.0 * np.pi * part))
    turns = np.concatenate([[0.0], np.cumsum(pitches_hz[:-1] / rate_hz)]) % 1.0
    return _overtoned(2.0 * np.pi * turns) / _PEAK


def swell(count: int, attack: int, release: int) -> FloatArray:
    """A rise and a fall shaped like half a cosine each, in samples, and 1 between."""
    envelope = np.ones(count)
    attack, release = min(attack, count // 2), min(release, count // 2)
    envelope[:attack] = 0.5 - 0.5 * np.cos(np.pi * np.arange(attack) / attack)
    envelope[count - release :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, release + 1) / release)
    return envelope


def envelope(seconds: float, struck: bool, rate_hz: float) -> FloatArray:
    """How loud a note is from its beginning to its end, from 0 to 1."""
    count = _count(seconds, rate_hz)
    attack_s, release_s = STRUCK_RAMPS_S if struck else HELD_RAMPS_S
    made = swell(count, _count(attack_s, rate_hz), _count(release_s, rate_hz))
    return made * np.exp(-DECAY * np.arange(count) / count) if struck else made


def grain(pitch_hz: float, first_sample: int, half: int, rate_hz: float) -> FloatArray:
    """A piece, 2 x `half` samples long, of a steady tone.

    Pieces that start `half` samples after each other add up to the tone itself (their windows, the
    periodic Hann window, add up to 1), and to a cross-fade where the pitch changes.
    """
    window = 0.5 - 0.5 * np.cos(np.pi * np.arange(2 * half) / half)
    return np.asarray(tone(pitch_hz, first_sample, 2 * half, rate_hz) * window)
