"""Samples that are already decided but not yet heard."""

from __future__ import annotations

import numpy as np

from optics.checks import FloatArray


class SampleBuffer:
    """A stretch of samples from now on; sounds are added to it and blocks taken off its front."""

    def __init__(self, room: int) -> None:
        self._room = room
        # Long enough that what is left is moved to the front only once in many blocks.
        self._samples: FloatArray = np.zeros(4 * room)
        self._now = 0

    def put(self, wave: FloatArray, offset: int) -> None:
        """Add a sound that starts `offset` samples from now; what is beyond the room is lost."""
        wave = wave[: max(0, self._room - offset)]
        start = self._now + offset
        self._samples[start : start + len(wave)] += wave

    def lay_over(self, wave: FloatArray, cover: FloatArray, offset: int) -> None:
        """Add a sound like `put`, and fade what is there already to what its cover leaves.

        cover: as long as the wave, from 0 to 1. Sounds that stay within their covers so stay within
        1 together, however many of them meet.
        """
        wave, cover = (part[: max(0, self._room - offset)] for part in (wave, cover))
        start = self._now + offset
        self._samples[start : start + len(wave)] *= 1.0 - cover
        self._samples[start : start + len(wave)] += wave

    def take(self, count: int) -> FloatArray:
        """The next `count` samples, at most the room; valid until the next call."""
        if self._now + count + self._room > len(self._samples):
            left = self._samples[self._now : self._now + self._room].copy()
            self._samples[:] = 0.0
            self._samples[: self._room] = left
            self._now = 0
        block = self._samples[self._now : self._now + count]
        self._now += count
        return block

    def cut(self, fade: int) -> None:
        """Silence from `fade` samples on, with a smooth fall until there."""
        left = self._samples[self._now : self._now + self._room]
        left[:fade] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(fade) / fade)
        left[fade:] = 0.0
