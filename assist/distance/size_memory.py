"""What a run has learned about the size of a head or a face by comparing it with the body."""

from __future__ import annotations

import math

_BODY_SD = 0.05
_INDEPENDENT_AFTER_S = 0.5
"""An upright body tells a size to so much, and something new only after a step."""
_UPRIGHT = 0.35
_USUAL_PERIOD_S = 1 / 30


class SizeMemory:
    """A scalar Kalman filter on the logarithm of the size over the assumed one.

    Heads differ, and hair, hats and blurred faces differ more. The body tells the distance better
    than a head of unknown size whenever the person stands upright; what it tells then helps when
    they sit down or come so near that the head is all there is.

    size_sd: relative error of the assumed size.
    """

    def __init__(self, size_sd: float) -> None:
        self._size_sd = size_sd
        self.forget()

    def forget(self) -> None:
        """Begin anew, as with another person."""
        self._log = 0.0
        self._variance = self._size_sd**2
        self._compared_s: float | None = None

    @property
    def size(self) -> float:
        """The size over the assumed one."""
        return math.exp(self._log)

    @property
    def sd(self) -> float:
        """Its relative standard deviation."""
        return math.sqrt(self._variance)

    def compare(self, own_m: float, body_m: float, folded: float, time_s: float) -> None:
        """Learn from the depth of the eyes by this size and by the body in one picture.

        folded: how far the body is from upright (`Observation.folded`); one far from it teaches
            nothing.
        """
        if folded > _UPRIGHT:
            return
        before_s, self._compared_s = self._compared_s, time_s
        elapsed_s = _USUAL_PERIOD_S if before_s is None else time_s - before_s
        part = min(max(elapsed_s, 0.0) / _INDEPENDENT_AFTER_S, 1.0)
        if part == 0:
            return
        gain = self._variance / (self._variance + _BODY_SD**2 / part)
        self._log += gain * math.log(body_m / own_m)
        self._variance *= 1 - gain
