"""Whether a body of unknown stature may be a child's, whose distance an adult's sizes get wrong.

Without a stature an adult's is assumed. A child of 1.20 m would then be told to be four tenths too
far away, and surely so. But a child's head is large for its body: taken for an adult's, the face
looks nearer than the body does. How much so differs from body to body, so this tells no stature;
it tells only that an adult's is not to be relied on.
"""

from __future__ import annotations

import math

_UPRIGHT = 0.35
"""A body folded more than this (`Observation.folded`) is too unsure itself."""
_LEAST_S = 0.5
"""So long the face must have been compared before it says anything."""
_MOST_GAP_S = 0.2
_CHILDLIKE = 0.10
"""Seven rendered adults of 1.45 to 2.00 m have from -0.06 to +0.05, a rendered child of 1.20 m has
0.16. Real faces differ by 4.5 % (`assist.setup.body`), so some small adults are asked for their
stature."""


class HeadAgainstBody:
    """Running mean of the logarithm of the body's distance over the face's, both an adult's."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Begin anew, as with another person."""
        self._sum = self._weight_s = 0.0
        self._before_s: float | None = None

    def tell(self, time_s: float, body_m: float, face_m: float, folded: float) -> None:
        """Depths of the eyes by the body and by the face in one picture."""
        if folded > _UPRIGHT:
            return
        before_s, self._before_s = self._before_s, time_s
        if before_s is None:
            return
        part_s = min(max(time_s - before_s, 0.0), _MOST_GAP_S)
        self._sum += part_s * math.log(body_m / face_m)
        self._weight_s += part_s

    @property
    def told(self) -> bool:
        """Whether enough was seen to tell."""
        return self._weight_s >= _LEAST_S

    @property
    def childlike(self) -> bool:
        """Whether the head is too large for an adult's body."""
        return self.told and self._sum > _CHILDLIKE * self._weight_s
