"""Arrays in, scalars back, and clear refusals of impossible numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


class ImpossibleValueError(ValueError):
    """A number that no camera, lens or place could have; the text names it and what would do."""


def _show(value: FloatArray, bad: NDArray[np.bool_]) -> str:
    """The first offending number, for the message."""
    return f"{float(value[bad].flat[0]):.6g}"


def as_floats(name: str, value: ArrayLike) -> FloatArray:
    """`value` as float64; refuses what is not a number."""
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise ImpossibleValueError(f"{name} must be a number, not {value!r}") from error
    if np.isnan(array).any():
        raise ImpossibleValueError(f"{name} must be a number, not nan")
    return array


def positive(name: str, value: ArrayLike, *, infinity: bool = False) -> FloatArray:
    """`value` as float64, every element above zero, finite unless `infinity` allows otherwise."""
    array = as_floats(name, value)
    bad = ~(array > 0)
    if bad.any():
        raise ImpossibleValueError(f"{name} must be above zero, not {_show(array, bad)}")
    if not infinity and np.isinf(array).any():
        raise ImpossibleValueError(f"{name} must be finite")
    return array


def above(
    name: str, value: ArrayLike, least: ArrayLike, least_name: str, *, infinity: bool = False
) -> FloatArray:
    """`value` as float64, every element strictly above `least`."""
    array = positive(name, value, infinity=infinity)
    floor = np.broadcast_to(np.asarray(least, dtype=np.float64), np.broadcast(array, least).shape)
    whole = np.broadcast_to(array, floor.shape)
    bad = ~(whole > floor)
    if bad.any():
        raise ImpossibleValueError(
            f"{name} must be above {least_name} ({_show(floor, bad)}), not {_show(whole, bad)}"
        )
    return array


def scalar_back(value: Any) -> Any:
    """A float for a zero-dimensional result, the array otherwise."""
    array = np.asarray(value)
    return float(array) if array.ndim == 0 else array
