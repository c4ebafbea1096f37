"""What a run believes of how large the person's body, face and head are, and how far that is known.

A distance from a size is wrong by as much as the size is: a body taken to be two per cent taller
than it is stands two per cent too far, in every picture alike. Comparing face with body in picture
after picture tells how the two sizes stand to each other, and no more: the error that they share,
and what the two were known to before, stays however long somebody is looked at.
"""

from __future__ import annotations

import numpy as np

from assist.distance import Size
from assist.setup.body import BodyShape
from optics.checks import FloatArray

_BODY_SD = 0.05
_DRAWN_HEAD_SD = 0.15
"""The detector's drawing of a head is off by so much besides, and much the same as long as light
and face stay what they are: however often it is compared, it says little of the body's size."""
_INDEPENDENT_AFTER_S = 0.5
"""An upright body tells a size to so much, and something new only after a step."""
_UPRIGHT = 0.35
_USUAL_PERIOD_S = 1 / 30


class SizeBelief:
    """Logarithms of true over assumed size of body, face and head: a joint normal distribution.

    A cue that assumes a size reads z exp(-x) where the true depth is z and x is its log-size, so
    the logarithm of two readings' ratio measures the difference of their log-sizes: a Kalman
    filter with constant state, exact for normal errors. With body and face known to b and f
    (relative standard deviations) beforehand, both are known to b f / sqrt(b^2 + f^2) once they
    have been compared for good: that is the floor.
    """

    def __init__(self, shape: BodyShape) -> None:
        self._shape = shape
        self.forget()

    def forget(self) -> None:
        """Begin anew, as with another person."""
        self._mean = np.zeros(3)
        self._covariance = self._shape.size_covariance.copy()
        self._covariance[Size.HEAD, Size.HEAD] += _DRAWN_HEAD_SD**2
        self._compared_s: dict[Size, float] = {}

    @property
    def covariance(self) -> FloatArray:
        """(3, 3) of the log-sizes, in the order of `Size`."""
        return np.asarray(self._covariance, np.float64)

    def factor(self, size: Size) -> float:
        """What a reading by that size is to be multiplied with."""
        return float(np.exp(self._mean[size]))

    def sd(self, size: Size) -> float:
        """Relative standard deviation of that size; pictures take it down to a floor only."""
        return float(np.sqrt(self._covariance[size, size]))

    def compare(
        self, size: Size, own_m: float, body_m: float, folded: float, time_s: float
    ) -> None:
        """Learn from the depth of the eyes by a size of the head and by the body in one picture.

        own_m, body_m: as read by the assumed sizes, metres.   folded: how far the body is from
        upright (`Observation.folded`); one far from it teaches nothing.
        """
        if folded > _UPRIGHT:
            return
        before_s = self._compared_s.get(size)
        self._compared_s[size] = time_s
        elapsed_s = _USUAL_PERIOD_S if before_s is None else time_s - before_s
        part = min(max(elapsed_s, 0.0) / _INDEPENDENT_AFTER_S, 1.0)
        if part == 0:
            return
        row = np.zeros(3)
        row[size], row[Size.BODY] = 1.0, -1.0
        along = self._covariance @ row
        spread = float(row @ along) + _BODY_SD**2 / part
        surprise = float(np.log(body_m / own_m)) - float(row @ self._mean)
        self._mean += along * (surprise / spread)
        self._covariance -= np.outer(along, along) / spread
