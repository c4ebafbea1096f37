"""Whether a feed's picture is squeezed, as its faces are too slim or too wide for anybody's.

A picture in 16:9 that a device delivers as 960x720 makes a face three quarters as wide as it is.
The face mesh follows that by half - it holds on to what it knows of faces - and still no face is
like that. What a device says of its pixels is heeded before (`assist.feed.square_pixels`); this is
for one that says nothing, or what is not so.
"""

from __future__ import annotations

import math

import numpy as np

from assist.pose import Face, Pose
from assist.pose.face import MESH_POINTS
from optics.checks import FloatArray

_SLIM, _WIDE = 0.24, 0.425
"""Logarithm of breadth over height of the mesh, below and above which a picture is doubted. Of
seven rendered bodies the means are from 0.272 to 0.342, of the shipped clip 0.348, of one
photograph 0.364; squeezed to three quarters 0.143 to 0.228, spread to four thirds 0.446 and more.
Between 0.9 and 1.1 nothing is seen."""
_ONE_SD, _ENOUGH = 0.03, 3
"""What one picture adds to the limits, and how many pictures need no such addition."""
_NEVER_SQUARE = {(720, 576), (720, 480), (704, 576), (704, 480)}
"""Sizes of television, whose pixels are nowhere square (ITU-R BT.601; from memory). A feed that
says so is spread out before, and has another size then."""
_MOST_TURNED_RAD = math.radians(30.0)
_LEAST_WIDTH_PX = 20.0
_REMEMBERED = 12

_LEFT, _RIGHT, _LEFT_TEMPLE, _RIGHT_TEMPLE, _FOREHEAD, _NOSE = (
    MESH_POINTS.index(point) for point in (454, 234, 356, 127, 10, 1)
)


class SqueezeWatch:
    """Looks at a feed's size, and keeps a running mean over its faces, whoever's they are."""

    def __init__(self) -> None:
        self._mean = 0.0
        self._count = 0
        self.seems = False
        """Whether the picture seems to be squeezed or spread."""

    def update(self, pose: Pose | None) -> None:
        """The next picture."""
        if pose is not None and {(pose.width_px, pose.height_px)} <= _NEVER_SQUARE:
            self.seems = True
            return
        slimness = None if pose is None or pose.face is None else breadth_over_height(pose.face)
        if slimness is None:
            return
        self._count = min(self._count + 1, _REMEMBERED)
        self._mean += (slimness - self._mean) / self._count
        slack = _ONE_SD if self._count < _ENOUGH else 0.0
        if self.seems:
            slack = -_ONE_SD / 3
        self.seems = not _SLIM - slack <= self._mean <= _WIDE + slack


def breadth_over_height(face: Face) -> float | None:
    """Logarithm of the mesh's breadth over its height, None where it is turned away or tiny."""
    points = face.points_px
    across, temples = points[_LEFT] - points[_RIGHT], points[_LEFT_TEMPLE] - points[_RIGHT_TEMPLE]
    breadth, height = _length(across), _length(points[_FOREHEAD] - points[_NOSE])
    turned = math.asin(min(abs(float(temples[2])) / max(_length(temples), 1e-9), 1.0))
    if turned > _MOST_TURNED_RAD or breadth < _LEAST_WIDTH_PX or height <= 0:
        return None
    return math.log(breadth / height)


def _length(vector: FloatArray) -> float:
    return float(np.linalg.norm(vector))
