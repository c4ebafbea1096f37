"""The face as a rigid body: how large it is in the picture, and for how far away it speaks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from assist.pose.face import EYE_CORNERS, Face
from optics.camera import PinholeCamera
from optics.checks import FloatArray
from optics.rays import rotation_to_ray

ADULT_FACE_M = 0.0507
"""Root mean square distance of the mesh's kept points from their middle in an adult's face. It is
0.56 of the breadth between the outer corners of the eyes (`tests/benchmarks/heads` has it for two
scanned heads). That breadth is 90.7 mm in young adults of Hong Kong (as at
`assist.setup.body.FACE_SD`), 89.5 mm in white North Americans (from memory), so 50 to 51 mm; the
rendered bodies used for tuning have 50.3."""
PUPIL_AHEAD_M = 0.010
"""How far the pupils are in front of the corners of the eyes as the mesh draws them: 6 and -6 mm in
the two scanned heads, 18 to 37 mm in the rendered bodies used for tuning. The wrong one makes the
error drift with the distance, by a hundredth at a metre."""
PUPIL_AHEAD_SD_M = 0.012
"""From face to face."""


@dataclass(frozen=True, slots=True)
class FaceInView:
    """What one picture of a face shows, the size apart.

    eyes_per_face: depth of the eyes over the size of the face, both in metres.
    turned_rad: angle between the direction of the face and that to the camera.
    width_px: from ear to ear, as if seen from the front.
    """

    eyes_per_face: float
    turned_rad: float
    width_px: float


def look_at(face: Face, camera: PinholeCamera) -> FaceInView | None:
    """Measure a face; None where its points coincide.

    The mesh has three dimensions, so its size hardly changes with the turn of the head. It is
    measured in a camera turned straight at the face: towards the corners of a picture a plain one
    stretches what it shows.
    """
    px = face.points_px
    flat = camera.normalised(px[:, :2])
    middle = flat.mean(axis=0)
    ray = np.array([middle[0], middle[1], 1.0])
    ray /= math.sqrt(float(ray @ ray))
    turn = rotation_to_ray(ray)
    straight = np.column_stack([flat, np.ones(len(flat))]) @ turn
    focal_px = (camera.fx_px + camera.fy_px) / 2
    # The mesh's z is in pixels of the picture as it is, where they are those of a depth of ray[2].
    depth = px[:, 2] / focal_px * ray[2]
    depth -= depth.mean()
    # Back from perspective: what is farther than the middle of the face is drawn smaller.
    across = straight[:, :2] / straight[:, 2:] * (1 + depth[:, None])
    shape = np.column_stack([across - across.mean(axis=0), depth])
    size = math.sqrt(float(np.mean(np.sum(shape**2, axis=1))))
    if not size > 1e-6:
        return None
    along = 1.0 / size  # distance along the ray over the size of the face
    eyes = float(shape[EYE_CORNERS, 2].mean()) * along - PUPIL_AHEAD_M / ADULT_FACE_M
    return FaceInView(
        eyes_per_face=(along + eyes) * float(ray[2]),
        turned_rad=_turned(shape),
        width_px=size * focal_px / _SIZE_PER_WIDTH,
    )


_SIZE_PER_WIDTH = 0.353
"""The size as defined above over the breadth from ear to ear."""
_LEFT, _RIGHT = 18, 17  # in front of the ears
_BROW, _NOSE_TIP = 11, 10


def _turned(shape: FloatArray) -> float:
    """Angle of the line from ear to ear with the picture, which nodding does not change."""
    across = shape[_LEFT] - shape[_RIGHT]
    return math.asin(min(abs(float(across[2])) / max(float(np.linalg.norm(across)), 1e-9), 1.0))
