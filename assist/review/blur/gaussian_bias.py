"""What variance a bell fitted to an edge has, where the blur has another shape.

The fine fit's edges are bells. Held against an edge of a disc or a line, whose blur ends all at
once, a bell comes out wider than it by an amount that grows with the blur.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

TRUE_VARIANCE = np.array([0.0, 0.0625, 0.14, 0.25, 0.4, 0.56, 0.8, 1.0, 1.3])
FOUND = {
    "gauss": TRUE_VARIANCE,
    "disc": TRUE_VARIANCE * [1.0, 1.019, 1.087, 1.141, 1.188, 1.227, 1.287, 1.347, 1.458],
    "box": TRUE_VARIANCE * [1.0, 1.023, 1.109, 1.178, 1.238, 1.290, 1.371, 1.454, 1.622],
}
"""Variances, square pixels, and what is found of them: exact edges fitted, mean of four angles
(tests/assist/test_fine_blur.py does it again)."""


def without_shape(shape: str, found: NDArray[np.float64]) -> NDArray[np.float64]:
    """The variance of a blur of that shape, of which the fit finds so much."""
    found = np.maximum(found, 0.0)
    table = FOUND[shape]
    beyond = np.maximum(found - table[-1], 0.0) * TRUE_VARIANCE[-1] / table[-1]
    return np.asarray(np.interp(found, table, TRUE_VARIANCE) + beyond)


def believed(found: float, beliefs: dict[str, float]) -> float:
    """The same, weighing the shapes by the belief in each."""
    value = np.array([found])
    return sum(part * float(without_shape(shape, value)[0]) for shape, part in beliefs.items())
