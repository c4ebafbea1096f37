"""Focusing on a stand-in off the axis, then turning the camera back: the plane of focus moves.

Focused with the stand-in on the axis at range r, the plane of sharp focus stands at r, square to
the axis. Turned away by theta about the lens, the plane is at r along the new axis, and the
stand-in's depth along it is r cos(theta): it now lies r (1 - cos(theta)) in front of the plane.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optics.checks import as_floats, positive, scalar_back
from optics.errors import ImpossibleValueError


def depth_after_m(range_m: ArrayLike, angle_rad: ArrayLike) -> Any:
    """Axial depth of the stand-in once the camera has turned: r cos(theta).

    Raises ImpossibleValueError for an angle of 90 degrees or more.
    """
    angle = as_floats("angle off the axis", angle_rad)
    if np.any(np.abs(angle) >= np.pi / 2):
        raise ImpossibleValueError("angle off the axis must be under 90 degrees")
    return scalar_back(positive("range", range_m) * np.cos(angle))


def shift_m(range_m: ArrayLike, angle_rad: ArrayLike) -> Any:
    """How far the plane of focus ends up behind the stand-in: r (1 - cos(theta)).

    Written 2 r sin^2(theta / 2), which keeps its digits at small angles.
    """
    angle = as_floats("angle off the axis", angle_rad)
    if np.any(np.abs(angle) >= np.pi / 2):
        raise ImpossibleValueError("angle off the axis must be under 90 degrees")
    return scalar_back(2.0 * positive("range", range_m) * np.sin(angle / 2.0) ** 2)
