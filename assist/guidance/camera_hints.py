"""What to do to the camera so that the picture becomes as an earlier one, as facts."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Hint(Enum):
    """One thing to do or to know. Left and right are the camera's."""

    UNKNOWN = "unknown"
    """The earlier scene is not recognised."""
    OTHER_WAY = "other way"
    """The camera was held the other way, upright or across."""
    OTHER_SHAPE = "other shape"
    """The feed's shape is another than its profile's."""
    SAME = "same"
    MOVED = "moved"
    TURN_LEFT = "turn left"
    TURN_RIGHT = "turn right"
    TILT_UP = "tilt up"
    TILT_DOWN = "tilt down"
    ROLL_CLOCKWISE = "roll clockwise"
    ROLL_ANTICLOCKWISE = "roll anticlockwise"
    ZOOM_IN = "zoom in"
    ZOOM_OUT = "zoom out"


@dataclass(frozen=True, slots=True)
class CameraHint:
    """A hint, and by how much: degrees, or per cent of a zoom; 0 where there is no such."""

    hint: Hint
    amount: float = 0.0
