"""A face in a picture: the landmarks of a face mesh that neither mouth nor lids move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from assist.base.images import ColourImage
from optics.checks import FloatArray

# fmt: off
MESH_POINTS = (
    33, 133, 362, 263,  # corners of the eyes, from the person's right to the left
    168, 6, 197, 195, 5, 4, 1,  # down the nose
    10, 151, 9, 8,  # down the forehead
    127, 356, 234, 454, 93, 323, 132, 361, 116, 345,  # temples, in front of the ears, cheeks
)
# fmt: on
"""Which points of MediaPipe's face mesh are kept, in this order."""
EYE_CORNERS = slice(0, 4)
COUNT = len(MESH_POINTS)


@dataclass(frozen=True, slots=True)
class Face:
    """One face in one picture.

    points_px: (COUNT, 3) MESH_POINTS: x and y in pixels of the picture, from its outer edge; z in
        the same pixels, away from the camera, from the middle of the head.
    """

    points_px: FloatArray

    def __post_init__(self) -> None:
        if self.points_px.shape != (COUNT, 3):
            raise ValueError(f"points_px: expected ({COUNT}, 3), got {self.points_px.shape}")


class FaceFinder(Protocol):
    """Finds the face near a place in successive pictures of one person."""

    def find(self, picture: ColourImage, middle_px: FloatArray, half_px: float) -> Face | None:
        """The face within the square of half-side `half_px` round `middle_px` (2,), if any."""
        ...

    def close(self) -> None:
        """Free the network; safe to call twice."""
        ...
