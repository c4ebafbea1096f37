"""Where a lens is really focused, on the scale of whoever measures the distances.

A meter that is two per cent off says 2.45 m of what stands at 2.40 m; a lens set to 2.40 m by its
scale may be focused at 2.33 m. Neither can be known by itself, and neither needs to be: with true
depth z = k z' of a reading z', and the lens focused at s, the blur on the sensor is

    b = f^2 / (N (s - f)) |z - s| / z = A |1 - r / z'|,   r = s / k,

so that one unknown, the reading r of the plane of focus, decides what is sharp. It is learned from
marks at which the focus was set, and from pictures whose blur is known. A distribution over a grid
of log(r / s0), s0 being the distance that the focus was said to be set at, is exact enough and
keeps both sides that a soft picture leaves open.
Source of the blur: the thin lens, as in `optics.lens.blur_diameter_m`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optics.checks import FloatArray, positive
from optics.focus_zone import FocusZone, ZoneProbabilities, normal_cdf

_CELLS = 801
_REACH_SD = 6.0
_LEAST_HALF = 0.12
"""Half of the grid, in logarithms, at the least: what is learned may contradict what was said."""
_SOFTNESS_CELLS = 12
_OF_PEAK, _ONE_LOBE = 0.1, 0.8
"""A place where the plane may be ends where the probability is so small a part of its highest; it
is the only one where it holds so much in all. A normal distribution's holds 0.97."""
_STRAY = 0.02
"""Share of observations that tell nothing, whatever they say: a picture of somebody who moved at
the last moment must not overrule everything else. Common practice, no source."""
_STRAY_BLUR = 20.0
"""Blurs of such pictures spread over so many circles of confusion."""
_STRAY_MARK = 0.2
"""Marks of such visits spread over so much of the distance."""


@dataclass(frozen=True, eq=False)
class PlaneOfFocus:
    """What is believed of the reading of the plane of focus; immutable.

    log_ratio: (n,) log(r / s0), evenly spaced.
    softness: (m,) the blur that is there even in the plane of focus (the lens, diffraction, the
        sensor), in circles of confusion; blurs add as the root of their squares.
    weights: (n, m) probabilities, which add up to 1.
    """

    log_ratio: FloatArray
    softness: FloatArray
    weights: FloatArray

    @classmethod
    def stated(cls, sd: float, *, most_softness: float = 0.6) -> PlaneOfFocus:
        """Before anything was learned: at the stated distance, with a relative standard deviation.

        sd: of the meter's scale and of how the focus was set, together; above 0.
        most_softness: the blur that is always there is anything up to so many circles of confusion.
        """
        spread = float(positive("standard deviation of the plane of focus", sd))
        half = max(_REACH_SD * spread, _LEAST_HALF)
        grid = np.linspace(-half, half, _CELLS)
        softness = (np.arange(_SOFTNESS_CELLS) + 0.5) / _SOFTNESS_CELLS * most_softness
        weights = np.exp(-0.5 * (grid / spread) ** 2)[:, None] * np.ones(_SOFTNESS_CELLS)
        return cls(grid, softness, weights / weights.sum())

    # -- what is known ------------------------------------------------------------------------

    @cached_property
    def _of_ratio(self) -> FloatArray:
        """(n,) probability of each log-ratio."""
        return np.asarray(self.weights.sum(axis=1))

    @cached_property
    def mean(self) -> float:
        """Mean of log(r / s0)."""
        return float(self._of_ratio @ self.log_ratio)

    @cached_property
    def sd(self) -> float:
        """Standard deviation of log(r / s0): relative, of the plane of focus."""
        variance = float(self._of_ratio @ (self.log_ratio - self.mean) ** 2)
        cell = float(self.log_ratio[1] - self.log_ratio[0])
        return math.sqrt(max(variance, cell * cell / 12))

    @cached_property
    def _lobe(self) -> slice:
        """The cells about the highest peak that have at least a tenth of its probability."""
        p = self._of_ratio
        first = last = int(np.argmax(p))
        least = _OF_PEAK * p[first]
        while first > 0 and p[first - 1] >= least:
            first -= 1
        while last < len(p) - 1 and p[last + 1] >= least:
            last += 1
        return slice(first, last + 1)

    @cached_property
    def one_sided(self) -> bool:
        """Whether the plane may be in one place, not on either side of somebody in a picture."""
        return bool(self._of_ratio[self._lobe].sum() >= _ONE_LOBE)

    @cached_property
    def ratio(self) -> float:
        """The best single guess of r / s0: the middle of the likeliest place."""
        share, places = self._of_ratio[self._lobe], self.log_ratio[self._lobe]
        return math.exp(float(share @ places) / float(share.sum()))

    def within(self, share: float, of_ratio: float) -> float:
        """Probability that r / s0 lies within a relative distance of a ratio."""
        near = np.abs(np.expm1(self.log_ratio - math.log(of_ratio))) <= share
        return float(self._of_ratio[near].sum())

    def probabilities(self, zone: FocusZone, distance_m: float, own_sd: float) -> ZoneProbabilities:
        """Of standing before, within and behind the zone.

        zone: about the stated distance; where the plane of focus lies elsewhere, so do its limits,
            which are in proportion to it.
        distance_m: as read, from the lens.   own_sd: relative standard deviation of what differs
            from one reading to the next; what is the same in all of them is in this distribution.
        """
        log_z = math.log(distance_m)
        near = self.log_ratio + math.log(zone.near_m)
        p = self._of_ratio
        spread = max(own_sd, 1e-6)
        before = float(p @ _cdf((near - log_z) / spread))
        if math.isinf(zone.far_m):
            behind = 0.0
        else:
            far = self.log_ratio + math.log(zone.far_m)
            behind = float(p @ _cdf((log_z - far) / spread))
        return ZoneProbabilities(before, max(0.0, 1.0 - before - behind), behind)

    # -- what teaches -------------------------------------------------------------------------

    def marked(self, ratio: float, sd: float) -> PlaneOfFocus:
        """Somebody stood where the focus was set, and was read at `ratio` times where it is said.

        sd: relative, of the reading's repeatability and of how exactly the focus is at the mark.
        """
        offset = self.log_ratio - math.log(float(positive("ratio", ratio)))
        spread = float(positive("standard deviation of a mark", sd))
        likely = np.exp(-0.5 * (offset / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
        likely = (1 - _STRAY) * likely + _STRAY / _STRAY_MARK
        return self._given(likely[:, None])

    def pictured(
        self,
        ratio: float,
        own_sd: float,
        blur: float,
        blur_sd: float,
        zone: FocusZone,
        plane_behind: float | None = None,
    ) -> PlaneOfFocus:
        """A picture shows how blurred somebody is who was read at `ratio` times where it is said.

        own_sd: relative standard deviation of that reading.
        blur, blur_sd: diameter of the blur and its standard deviation, in circles of confusion.
        zone: that the picture was taken with.
        plane_behind: probability that the plane of focus lies behind them, where the picture tells
            by what in it is sharper; None where it does not.
        """
        reach = circles_of_confusion(zone)
        spread = float(positive("standard deviation of a blur", blur_sd))
        log_ratio = math.log(float(positive("ratio", ratio)))
        offset = self.log_ratio - log_ratio
        defocus = reach * np.abs(np.expm1(offset))
        seen = np.hypot(defocus[:, None], self.softness)
        likely = np.exp(-0.5 * ((seen - blur) / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
        if plane_behind is not None:
            side = np.where(offset > 0, plane_behind, 1.0 - plane_behind)
            likely = likely * 2.0 * side[:, None]
        likely = self._smoothed(likely, own_sd)
        return self._given((1 - _STRAY) * likely + _STRAY / _STRAY_BLUR)

    def _given(self, likelihood: FloatArray) -> PlaneOfFocus:
        weights = self.weights * likelihood
        return replace(self, weights=weights / weights.sum())

    def drifted(self, sd: float) -> PlaneOfFocus:
        """After something that may have moved the scale by a relative standard deviation."""
        weights = self._smoothed(self.weights, sd)
        return replace(self, weights=weights / weights.sum())

    def _smoothed(self, over_grid: FloatArray, sd: float) -> FloatArray:
        """(n, m) values over the grid, averaged over a normal error of the ratio."""
        cell = float(self.log_ratio[1] - self.log_ratio[0])
        half = min(math.ceil(4 * sd / cell), len(self.log_ratio) // 2)
        if half == 0:
            return over_grid
        kernel = np.exp(-0.5 * (np.arange(-half, half + 1) * cell / sd) ** 2)
        kernel /= kernel.sum()
        padded = np.pad(over_grid, ((half, half), (0, 0)), mode="edge")
        columns = [np.convolve(column, kernel, "valid") for column in padded.T]
        return np.asarray(np.array(columns).T, np.float64)


def circles_of_confusion(zone: FocusZone) -> float:
    """The blur of what is infinitely far, in circles of confusion: A / c above.

    The near limit is s / (1 + c / A); so c / A follows from the zone itself.
    Infinite where the zone has no depth at all.
    """
    share = zone.best_m / zone.near_m - 1.0
    return math.inf if share == 0 else 1.0 / share


_cdf = np.vectorize(normal_cdf, otypes=[np.float64])
