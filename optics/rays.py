"""Directions of sight."""

from __future__ import annotations

import math

import numpy as np

from optics.checks import FloatArray


def rotation_to_ray(direction: FloatArray) -> FloatArray:
    """Rotation (3, 3) that turns the optical axis the shortest way into a unit direction (3,).

    Rodrigues' formula for the axis z x direction; the direction must not be straight backwards.
    """
    x, y, z = direction
    k = 1.0 / (1.0 + z)
    return np.array(
        [
            [1.0 - k * x * x, -k * x * y, x],
            [-k * x * y, 1.0 - k * y * y, y],
            [-x, -y, z],
        ]
    )


def straight_down(tilt_rad: float, roll_rad: float = 0.0) -> FloatArray:
    """(3,) unit vector straight down in the frame of a camera that is held so.

    tilt_rad: downwards from level.   roll_rad: clockwise, as seen from behind the camera.
    """
    c = math.cos(tilt_rad)
    return np.array([c * math.sin(roll_rad), c * math.cos(roll_rad), math.sin(tilt_rad)])
