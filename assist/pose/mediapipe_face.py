"""Face finding by MediaPipe's face mesh, whose networks the pinned release carries."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.pose.face import MESH_POINTS, Face
from optics.checks import FloatArray

_SIDE_PX = 256
"""Of the square that is handed to the network, which itself works on 192."""
_LEAST_HALF_PX = 20.0
"""Below this, 10 pixels from ear to ear, a face has no features left."""


def _maker() -> Any:
    """The library's class, or None in releases that no longer have it."""
    import mediapipe  # noqa: PLC0415  (half a second; only where it is needed)

    solutions = getattr(mediapipe, "solutions", None)
    return None if solutions is None else solutions.face_mesh.FaceMesh


class MediaPipeFaceFinder:
    """`FaceFinder` on the face mesh of MediaPipe's first interface.

    The mesh follows the face from call to call and searches the square anew when it has lost it;
    with `stills` it searches every time.
    """

    def __init__(self, *, stills: bool = False) -> None:
        self._mesh: Any = _maker()(static_image_mode=stills, max_num_faces=1, refine_landmarks=True)
        # The networks are loaded on threads of their own: once a picture is through, they are.
        self._mesh.process(np.zeros((_SIDE_PX, _SIDE_PX, 3), np.uint8))

    @staticmethod
    def available() -> bool:
        """Whether the installed mediapipe has the face mesh."""
        return _maker() is not None

    def find(self, picture: ColourImage, middle_px: FloatArray, half_px: float) -> Face | None:
        """See `FaceFinder`."""
        # A head larger than the picture is none, and its square could be larger than the memory.
        if not _LEAST_HALF_PX <= half_px <= max(picture.shape):
            return None
        scale = _SIDE_PX / (2 * half_px)
        # Shrinking by more than half would skip pixels: take the square out and average it first.
        square = _cut_out(picture, middle_px, half_px, scale)
        found = self._mesh.process(square)
        if not found.multi_face_landmarks:
            return None
        marks = found.multi_face_landmarks[0].landmark
        points = np.array([(marks[k].x, marks[k].y, marks[k].z) for k in MESH_POINTS])
        points *= _SIDE_PX / scale
        points[:, :2] += middle_px - half_px
        return Face(points)

    def close(self) -> None:
        """Free the network; safe to call twice."""
        if self._mesh is not None:
            self._mesh.close()
            self._mesh = None


def _cut_out(
    picture: ColourImage, middle_px: FloatArray, half_px: float, scale: float
) -> ColourImage:
    """The square, red green blue, at the network's size; what lies outside repeats the edge."""
    left, top = middle_px - half_px
    if scale < 0.5:
        side = round(2 * half_px)
        square = cv2.warpAffine(
            picture,
            np.array([[1.0, 0.0, -left], [0.0, 1.0, -top]]),
            (side, side),
            borderMode=cv2.BORDER_REPLICATE,
        )
        square = cv2.resize(square, (_SIDE_PX, _SIDE_PX), interpolation=cv2.INTER_AREA)
    else:
        # Pixel coordinates start at the outer edge; OpenCV's at the first pixel's centre.
        shift = 0.5 * (scale - 1)
        square = cv2.warpAffine(
            picture,
            np.array([[scale, 0.0, shift - scale * left], [0.0, scale, shift - scale * top]]),
            (_SIDE_PX, _SIDE_PX),
            borderMode=cv2.BORDER_REPLICATE,
        )
    return np.asarray(cv2.cvtColor(square, cv2.COLOR_BGR2RGB), dtype=np.uint8)
