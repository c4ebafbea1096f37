"""How a blur depends on the direction: the variance of an ellipse.

Along a way at angle a the variance is middle + swing cos(2 (a - angle)), which is linear in the
terms 1, cos 2a and sin 2a.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ellipse:
    """Variances in square pixels.

    middle_px2: the mean over all ways.   swing_px2: how much more it is along the way of most.
    angle: of that way, radians.
    """

    middle_px2: float
    swing_px2: float
    angle: float

    @classmethod
    def of_terms(cls, terms: Sequence[float] | Array) -> Ellipse:
        """From the coefficients of the three terms."""
        middle, across, aslant = (float(term) for term in terms)
        return cls(middle, math.hypot(across, aslant), 0.5 * math.atan2(aslant, across))


def terms_at(angle: Array) -> Array:
    """(n, 3) the three terms for ways at these angles (n,)."""
    return np.stack([np.ones_like(angle), np.cos(2 * angle), np.sin(2 * angle)], axis=1)


def fit(variance_px2: Array, angle: Array, weight: Array) -> Ellipse | None:
    """The ellipse that fits variances along some ways best; None where it would be none.

    weight: (n,) inverse of each variance's error.
    """
    terms, *_ = np.linalg.lstsq(
        terms_at(angle) * weight[:, None], variance_px2 * weight, rcond=None
    )
    found = Ellipse.of_terms(np.asarray(terms, np.float64))
    return found if found.middle_px2 > 0 else None
