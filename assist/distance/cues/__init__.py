"""Cues: separate ways of telling how far a person stands, behind one protocol.

Every cue answers for the depth of the eyes, with the standard deviation it would have by itself.
The errors of cues are far from independent: all read the same landmarks, and take the size of the
body from the same person. `distance.fusion` allows for that.
"""

from __future__ import annotations

from typing import Protocol

from assist.distance import CueAbsent, CueReading
from assist.distance.observation import Observation


class Cue(Protocol):
    """One way of telling the distance."""

    name: str

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """The depth of the eyes, or why this cue does not apply to this picture."""
        ...
