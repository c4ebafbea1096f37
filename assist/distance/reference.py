"""A reference view: what the cues read while somebody stood still, which later pictures go by.

How large a body or face is, and the feed's focal length, make every distance wrong by the same
share. Against a view of the same person by the same camera that share is gone: what is left is how
well a cue repeats itself, which is several times better than how well it measures metres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assist.distance import BodyDistance, CueReading, Size

_SAME_PERSON_SD = 0.05
"""How face and body of two readings of one person may differ from one another, relative."""
_LEAST_SHARE = 0.5
"""A cue that was absent in more than so much of the view is no part of it."""


@dataclass(frozen=True, slots=True)
class ReferenceView:
    """The medians of some pictures of one person who stood still.

    eyes_m: depth of the eyes as the engine measured it.
    read_m: by which size, what its cue read by the assumed size, metres.
    repeat_sd: by which size, relative standard deviation of that cue's readings of such a person
        from one view to another.
    common_sd: relative standard deviation of eyes_m as far as it is the same in all pictures.
    pictures: how many.
    """

    eyes_m: float
    read_m: dict[Size, float]
    repeat_sd: dict[Size, float]
    common_sd: float
    pictures: int

    @classmethod
    def of(cls, bodies: Sequence[BodyDistance]) -> ReferenceView:
        """From the pictures of a moment's standing, one or more."""
        by_size: dict[Size, list[CueReading]] = {}
        for body in bodies:
            for reading in body.readings:
                if isinstance(reading, CueReading) and not reading.carried:
                    by_size.setdefault(reading.size, []).append(reading)
        most = max((len(found) for found in by_size.values()), default=0)
        kept = {s: found for s, found in by_size.items() if len(found) >= _LEAST_SHARE * most}
        eyes_m = float(np.median([b.eyes_m for b in bodies]))
        return cls(
            eyes_m,
            {s: float(np.median([r.eyes_m for r in found])) for s, found in kept.items()},
            {
                s: float(np.median([r.repeat_sd_m / r.eyes_m for r in found]))
                for s, found in kept.items()
            },
            float(np.median([b.common_sd_m / b.eyes_m for b in bodies])),
            len(bodies),
        )

    @property
    def shows_face(self) -> bool:
        """Whether the face is part of it, which repeats itself best."""
        return Size.FACE in self.read_m

    @property
    def own_sd(self) -> float:
        """Relative standard deviation of one such view, by the best of its cues."""
        return min(self.repeat_sd.values(), default=math.inf)

    def factor(self, size: Size) -> float | None:
        """What a reading by that size is to be multiplied with; None where it was not seen."""
        read_m = self.read_m.get(size)
        return None if read_m is None else self.eyes_m / read_m

    def fits(self, other: ReferenceView) -> bool:
        """Whether the other view can be of the same person: face against body tells.

        Two people of one build pass for one another; a child and an adult don't.
        """
        if not {Size.BODY, Size.FACE} <= self.read_m.keys() & other.read_m.keys():
            return True
        here = math.log(self.read_m[Size.FACE] / self.read_m[Size.BODY])
        there = math.log(other.read_m[Size.FACE] / other.read_m[Size.BODY])
        return abs(here - there) <= 2 * _SAME_PERSON_SD
