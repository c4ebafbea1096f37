"""Whether the feed mirrors its picture, learned from which way somebody goes who is told "right".

Nothing in a picture of a person tells it from its mirror image; but whoever stands still, is told
to go half a metre to their right and then goes to their left, has heard left for right.
"""

from __future__ import annotations

from assist.guidance.advice import Sideways

_HEARD_S = 0.7
"""So long somebody must have stood under the advice: who is on the way does not follow it."""
_STOOD_M = 0.12
_WRONG_M = 0.4
"""So far the other way is no sway, and no step to look what is meant."""
_RIGHT_M = 0.2


class MirrorWatch:
    """Follows where somebody goes while the one thing they are told is to go sideways."""

    def __init__(self) -> None:
        self.suspected = False
        """Whether left and right seem to be exchanged."""
        self.forget()

    def forget(self) -> None:
        """Nobody is told to go anywhere, or another person is."""
        self._towards = 0
        self._since_s = self._from_m = 0.0
        self._heard = False

    def update(self, time_s: float, told: Sideways | None, place_m: float) -> None:
        """What they are told now, and where they are across the picture, metres to its right."""
        towards = 0 if told is None else (1 if told.across_m > 0 else -1)
        if towards == 0:
            self.forget()
            return
        if towards != self._towards:
            self._towards, self._since_s, self._from_m = towards, time_s, place_m
            self._heard = False
        gone_m = (place_m - self._from_m) * towards
        if not self._heard:
            if abs(gone_m) > _STOOD_M:  # on the way already
                self._since_s, self._from_m = time_s, place_m
            self._heard = time_s - self._since_s >= _HEARD_S
        elif gone_m <= -_WRONG_M:
            self.suspected = True
        elif gone_m >= _RIGHT_M:
            self.suspected = False
