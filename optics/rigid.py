"""Two cameras side by side: from a point as one sees it to the same point as the other does.

The feed's camera and the taking camera are two cameras unless the feed is the taking camera's own
output. Both stand still, so one rigid transform joins their frames. The frames are the package's: x
right, y down, z along the optical axis, origin at the lens.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from optics.checks import FloatArray, as_floats
from optics.errors import ImpossibleValueError


@dataclass(frozen=True)
class RigidOffset:
    """Where the feed's camera stands and points, as seen from the taking camera.

    along_m: forwards along the taking camera's axis.   across_m: to its right.   up_m: above it.
    yaw_rad: turned to the right.   pitch_rad: turned upwards.   roll_rad: turned clockwise, as seen
    from behind. The turns apply in that order, each about the axes already turned.
    """

    along_m: float = 0.0
    across_m: float = 0.0
    up_m: float = 0.0
    yaw_rad: float = 0.0
    pitch_rad: float = 0.0
    roll_rad: float = 0.0

    def __post_init__(self) -> None:
        for name in ("along_m", "across_m", "up_m", "yaw_rad", "pitch_rad", "roll_rad"):
            if not math.isfinite(float(as_floats(name, getattr(self, name)))):
                raise ImpossibleValueError("{name} must be finite", name=name)

    @property
    def position_m(self) -> FloatArray:
        """(3,) the feed's lens in the taking camera's frame."""
        return np.array([self.across_m, -self.up_m, self.along_m])

    @property
    def rotation(self) -> FloatArray:
        """(3, 3) matrix that takes directions from the feed's frame to the taking camera's.

        R = R_y(yaw) R_x(pitch) R_z(roll), right-handed about y (down), x (right) and z (forwards).
        """
        cy, sy = math.cos(self.yaw_rad), math.sin(self.yaw_rad)
        cp, sp = math.cos(self.pitch_rad), math.sin(self.pitch_rad)
        cr, sr = math.cos(self.roll_rad), math.sin(self.roll_rad)
        yaw = np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
        pitch = np.array([[1.0, 0.0, 0.0], [0.0, cp, -sp], [0.0, sp, cp]])
        roll = np.array([[cr, -sr, 0.0], [sr, cr, 0.0], [0.0, 0.0, 1.0]])
        return np.asarray(yaw @ pitch @ roll)

    def to_taking(self, points_m: ArrayLike) -> FloatArray:
        """Points (..., 3) of the feed's frame in the taking camera's: R p + position."""
        turned = np.asarray(points_m, dtype=np.float64) @ self.rotation.T
        return np.asarray(turned + self.position_m, np.float64)

    def to_feed(self, points_m: ArrayLike) -> FloatArray:
        """Points (..., 3) of the taking camera's frame in the feed's; the inverse."""
        return (np.asarray(points_m, dtype=np.float64) - self.position_m) @ self.rotation

    def depth_in_taking_m(self, points_m: ArrayLike) -> FloatArray:
        """Axial depth (...) for the taking camera of points (..., 3) of the feed's frame."""
        p = np.asarray(points_m, dtype=np.float64)
        return np.asarray(p @ self.rotation[2] + self.along_m)
