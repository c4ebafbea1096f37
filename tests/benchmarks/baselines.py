"""Two simple ways of telling the distance, to compare the engine with."""

from __future__ import annotations

import cv2
import numpy as np

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.setup.body import ADULT_STATURE_M
from optics.camera import PinholeCamera

L = Landmark
_JOINTS = [
    L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP,
    L.LEFT_KNEE, L.RIGHT_KNEE, L.LEFT_ANKLE, L.RIGHT_ANKLE,
]  # fmt: skip
_EYES_TO_ANKLES = 0.936 - 0.039
"""Part of the stature (Drillis and Contini 1966, in Winter; from memory)."""


def pixel_height(pose: Pose, camera: PinholeCamera, stature_m: float) -> tuple[float, float]:
    """(eyes, hips) metres: stature over pixel height times focal length; no posture, no tilt."""
    eyes = pose.middle_px(L.LEFT_EYE, L.RIGHT_EYE)
    ankles = pose.middle_px(L.LEFT_ANKLE, L.RIGHT_ANKLE)
    height_px = max(float(np.linalg.norm(eyes - ankles)), 1.0)
    z = _EYES_TO_ANKLES * stature_m * camera.fy_px / height_px
    return z, z


def perspective_n_point(
    pose: Pose, camera: PinholeCamera, stature_m: float
) -> tuple[float, float] | None:
    """(eyes, hips) metres by OpenCV's solvePnP on the metric landmarks scaled to the stature."""
    world = pose.world_m * (stature_m / ADULT_STATURE_M)
    inside = pose.inside
    use = [j for j in _JOINTS if inside[j] and pose.visibility[j] >= 0.5]
    if len(use) < 4:
        return None
    found, rotation, shift = cv2.solvePnP(
        world[use],
        pose.image_px[use] - 0.5,
        camera.opencv_matrix,
        np.array(camera.distortion),
        useExtrinsicGuess=True,
        rvec=np.zeros((3, 1)),
        tvec=np.array([[0.0], [0.0], [3.0]]),
        flags=cv2.SOLVEPNP_ITERATIVE,
    )
    if not found:
        return None
    z = (world @ cv2.Rodrigues(rotation)[0].T + shift.ravel())[:, 2]
    return float(z[L.LEFT_EYE] + z[L.RIGHT_EYE]) / 2, float(z[L.LEFT_HIP] + z[L.RIGHT_HIP]) / 2
