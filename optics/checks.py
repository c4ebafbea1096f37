"""Arrays in, scalars back, and clear refusals of impossible numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from optics.errors import ImpossibleValueError

FloatArray = NDArray[np.float64]


def _first(value: FloatArray, bad: NDArray[np.bool_]) -> float:
    """The first offending number, for the message."""
    return float(value[bad].flat[0])


def quantity(name: str) -> str:
    """The name itself, marked as one of a quantity for whoever gathers words to translate."""
    return name


def as_floats(name: str, value: ArrayLike) -> FloatArray:
    """`value` as float64; refuses what is not a number."""
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise ImpossibleValueError(
            "{name} must be a number, not {value}", name=name, value=repr(value)
        ) from error
    if np.isnan(array).any():
        raise ImpossibleValueError("{name} must be a number, not nan", name=name)
    return array


def positive(name: str, value: ArrayLike, *, infinity: bool = False) -> FloatArray:
    """`value` as float64, every element above zero, finite unless `infinity` allows otherwise."""
    array = as_floats(name, value)
    bad = ~(array > 0)
    if bad.any():
        raise ImpossibleValueError(
            "{name} must be above zero, not {value:.6g}", name=name, value=_first(array, bad)
        )
    if not infinity and np.isinf(array).any():
        raise ImpossibleValueError("{name} must be finite", name=name)
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
            "{name} must be above {least_name} ({least:.6g}), not {value:.6g}",
            name=name,
            least_name=least_name,
            least=_first(floor, bad),
            value=_first(whole, bad),
        )
    return array


def scalar_back(value: Any) -> Any:
    """A float for a zero-dimensional result, the array otherwise."""
    array = np.asarray(value)
    return float(array) if array.ndim == 0 else array
