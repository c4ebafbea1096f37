"""Small rotation helpers on plain numpy arrays. Angles in radians."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FORWARD = np.array([0.0, -1.0, 0.0])
"""Where a person with yaw 0 looks."""
UP = np.array([0.0, 0.0, 1.0])


def about(axis: Array, angle: float) -> Array:
    """Rotation matrix by `angle` about `axis` (any length), right-hand rule."""
    x, y, z = axis / np.linalg.norm(axis)
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross


def yaw(angle: float) -> Array:
    """Turn about the vertical; positive turns the person to their own left."""
    return about(UP, angle)


def pitch(angle: float) -> Array:
    """Tip forward (positive) of something that faces `FORWARD`: its top goes to the front."""
    return about(np.array([1.0, 0.0, 0.0]), angle)


def roll(angle: float) -> Array:
    """Lean to the own left (positive) of something that faces `FORWARD`."""
    return about(np.array([0.0, 1.0, 0.0]), angle)


def rotation_vector(rotation: Array) -> Array:
    """Axis times angle of a rotation matrix (angle below pi)."""
    cos = np.clip((np.trace(rotation) - 1.0) / 2.0, -1.0, 1.0)
    angle = float(np.arccos(cos))
    skew = np.array(
        [
            rotation[2, 1] - rotation[1, 2],
            rotation[0, 2] - rotation[2, 0],
            rotation[1, 0] - rotation[0, 1],
        ]
    )
    if angle < 1e-8:
        return skew / 2.0
    return skew / (2.0 * np.sin(angle)) * angle


def between(start: Array, end: Array, share: float) -> Array:
    """Rotation that lies `share` (0 to 1) of the way from `start` to `end`."""
    vector = rotation_vector(end @ start.T)
    angle = float(np.linalg.norm(vector))
    if angle < 1e-9:
        return start.copy()
    return about(vector, angle * share) @ start


def unit(vector: Array) -> Array:
    """The vector scaled to length 1."""
    return vector / np.linalg.norm(vector)


def frame(along: Array, hint: Array) -> Array:
    """Orthonormal columns: `along`, the part of `hint` across it, and their cross product."""
    first = unit(along)
    second = unit(hint - first * float(hint @ first))
    return np.stack([first, second, np.cross(first, second)], axis=1)


def align(rest_along: Array, rest_hint: Array, along: Array, hint: Array) -> Array:
    """Rotation taking the rest frame to the wanted frame (see `frame`)."""
    return frame(along, hint) @ frame(rest_along, rest_hint).T
