"""Along which way a picture is smeared: from the sharpest edges that face each way.

Movement along one direction softens every edge that faces it and spares those that lie along it.
What lies still in a face is soft in places and sharp in others whichever way it faces, so the
sharpest few of each way are compared, not the usual ones. Where no edge faces some way, or only
what is soft by itself, two other ways bound the smear along it: the standard deviation of a blur,
as it depends on the direction, is a norm, and the triangle inequality holds (for steady motion
between the two with equality). Where these lie too close together, a smear can be neither found nor
ruled out, and that is told too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assist.review.blur import ellipse
from assist.review.blur.edge_models import DISC_DIAMETERS
from assist.review.blur.fine_blur import Fitted

_WAYS = 6
_HALF_SECTOR = math.pi / 8
_WITNESSES = 3
"""How many edges must be as sharp as that: one alone may be chance."""
_APART_PX = 6.0
"""So far from each other: what makes one edge sharp, a crossing say, makes its neighbours so."""
_LEAST_WAYS = 5
_LEAST_EDGES = 60
_LARGEST_VARIANCE = 12.0
_FARTHEST = 1.75
"""How many times their own error two ways may pass on to a third: less than 70 degrees apart, they
say too little of what lies across them both."""


@dataclass(frozen=True, slots=True)
class Oval:
    """An ellipse of blur: standard deviations along its axes, pixels; angle of the longer.

    ratio_apart: the longer over the shorter if witnesses must stand apart from each other.
    """

    most_px: float
    least_px: float
    angle: float
    ratio_apart: float = 0.0

    @property
    def ratio(self) -> float:
        """The longer over the shorter."""
        return self.most_px / max(self.least_px, 0.05 * self.most_px)


@dataclass(frozen=True, slots=True)
class Directions:
    """What the ways say.

    softest_px: the largest width that the blur may have along any way: that of the sharpest edges
        facing it, or what edges of two others leave possible, if that is less; infinite where
        anything is possible.   oval: None where too few edges tell.
    """

    softest_px: float
    oval: Oval | None


def look(fitted: Fitted, scale: int) -> Directions:
    """Compare the ways. scale: full-size pixels per pixel of the picture that was fitted."""
    sharp = fitted.variance_px2 < _LARGEST_VARIANCE
    angle, place_px = fitted.angle[sharp], fitted.edges.place_px[sharp]
    # An edge counts as sharp as it surely is.
    upper = np.maximum(fitted.variance_px2[sharp] + fitted.error_px2[sharp], 0.0)
    centres = np.arange(_WAYS) * math.pi / _WAYS
    found, facing = np.full(_WAYS, np.nan), np.array(centres)
    apart = np.full(_WAYS, np.nan)
    for k, centre in enumerate(centres):
        away = np.abs(np.mod(angle - centre + math.pi / 2, math.pi) - math.pi / 2)
        mine = np.flatnonzero(away < _HALF_SECTOR)
        if mine.size >= _WITNESSES:
            order = mine[np.argsort(upper[mine], kind="stable")]
            sharpest = order[:_WITNESSES]
            found[k] = upper[sharpest[-1]]
            facing[k] = float(np.angle(np.mean(np.exp(2j * angle[sharpest])))) / 2
            apart[k] = upper[_last_apart(order, place_px)]
    seen = ~np.isnan(found)
    sigma = np.sqrt(found[seen])
    bounds = np.array([_bound(sigma, facing[seen], float(way)) for way in centres])
    bounds[seen] = np.minimum(bounds[seen], sigma)
    softest = DISC_DIAMETERS * scale * float(bounds.max())
    oval = None
    if seen.sum() >= _LEAST_WAYS and angle.size >= _LEAST_EDGES:
        oval = _fit(found[seen] * scale**2, centres[seen])
        again = _fit(apart[seen] * scale**2, centres[seen])
        if oval is not None:
            oval = replace(oval, ratio_apart=0.0 if again is None else again.ratio)
    return Directions(softest, oval)


def _last_apart(order: NDArray[np.int64], place_px: NDArray[np.float64]) -> int:
    """The last of as many witnesses as are asked for that stand far enough from each other.

    The last of the first few at all where too few places are.
    """
    chosen: list[int] = []
    for index in order:
        away = place_px[chosen] - place_px[index]
        if not chosen or (away**2).sum(axis=1).min() >= _APART_PX**2:
            chosen.append(int(index))
            if len(chosen) == _WITNESSES:
                return chosen[-1]
    return int(order[_WITNESSES - 1])


def _bound(sigma: NDArray[np.float64], facing: NDArray[np.float64], way: float) -> float:
    """The largest standard deviation along a way that those along others allow."""
    least = math.inf
    for i in range(sigma.size):
        for j in range(i):
            apart = abs(math.sin(facing[j] - facing[i]))
            # The unit vector of the way, as a sum of theirs.
            one, other = abs(math.sin(facing[j] - way)), abs(math.sin(way - facing[i]))
            if one + other <= _FARTHEST * apart:
                least = min(least, float(one * sigma[i] + other * sigma[j]) / apart)
    return least


def _fit(variance: NDArray[np.float64], angle: NDArray[np.float64]) -> Oval | None:
    weight = 1 / (variance + 0.4 * variance.max() + 1e-6)  # relative errors are alike
    found = ellipse.fit(variance, angle, weight)
    if found is None:
        return None
    middle, swing = found.middle_px2, found.swing_px2
    return Oval(math.sqrt(middle + swing), math.sqrt(max(middle - swing, 0.0)), found.angle)
