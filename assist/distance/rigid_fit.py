"""Distance by fitting the pose's metric landmarks to their pixels.

The detector reports the body twice: in pixels, and in metres about the middle of the hips. There is
one place in front of the camera where the second, seen through the camera, gives the first. This
holds in any posture, and needs only the scale of the body.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assist.distance import CueAbsent
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.camera import PinholeCamera
from optics.checks import FloatArray

NAME = "rigid fit"

DETECTOR_STATURE_M = 1.69
"""How tall the detector's metric skeleton stands, whoever is in view. Measured on rendered bodies
of known stature: it read 1.00 of the true distance for a body of 1.67 m and 0.88 for 1.91 m."""

# Joints whose metric positions are worth fitting: hands and feet are noisy, the face is small.
_FITTED = np.array(
    [
        Landmark.NOSE,
        Landmark.LEFT_EAR,
        Landmark.RIGHT_EAR,
        Landmark.LEFT_SHOULDER,
        Landmark.RIGHT_SHOULDER,
        Landmark.LEFT_ELBOW,
        Landmark.RIGHT_ELBOW,
        Landmark.LEFT_HIP,
        Landmark.RIGHT_HIP,
        Landmark.LEFT_KNEE,
        Landmark.RIGHT_KNEE,
        Landmark.LEFT_ANKLE,
        Landmark.RIGHT_ANKLE,
    ]
)
_LEAST_VISIBILITY = 0.5
_LEAST_JOINTS = 4
_LEAST_SPREAD_PX = 20.0
_HUBER_PX = 8.0
_STEPS = 3


@dataclass(frozen=True, slots=True)
class RigidFit:
    """The body placed in the camera frame.

    landmarks_m: (33, 3) all landmarks in the camera frame, metres.
    relative_formal_sd: standard deviation of the depth over the depth, from the residuals alone.
    """

    landmarks_m: FloatArray
    relative_formal_sd: float


def _rotation_to_ray(direction: FloatArray) -> FloatArray:
    """Rotation (3, 3) that turns the optical axis the shortest way into a unit direction.

    The detector sees a cut-out round the person as if the camera looked straight at it, so its
    metric frame is aligned with the ray to the person rather than with the optical axis.
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


def fit(pose: Pose, camera: PinholeCamera, stature_m: float) -> RigidFit | CueAbsent:
    """Place the body: weighted least squares over translation, with Huber's weights.

    A joint with metric position p (turned to the ray, scaled to the stature) at t + p is seen at
    x = (p_x + t_x) / (p_z + t_z): linear in t once multiplied out, weighted by 1 / (p_z + t_z).
    """
    inside = pose.inside(camera.width_px, camera.height_px)
    use = _FITTED[inside[_FITTED] & (pose.visibility[_FITTED] >= _LEAST_VISIBILITY)]
    if use.size < _LEAST_JOINTS:
        return CueAbsent(NAME, f"only {use.size} joints are in view")
    seen = pose.image_px[use]
    if float(np.ptp(seen, axis=0).max()) < _LEAST_SPREAD_PX:
        return CueAbsent(NAME, "the person is too small in the picture")
    rays = camera.normalised(seen)
    towards = np.array([*rays.mean(axis=0), 1.0])
    turn = _rotation_to_ray(towards / np.linalg.norm(towards))
    body = pose.world_m @ turn.T * (stature_m / DETECTOR_STATURE_M)
    joints = body[use]
    count = use.size
    matrix = np.zeros((2, count, 3))
    matrix[0, :, 0] = matrix[1, :, 1] = 1.0
    matrix[:, :, 2] = -rays.T
    target = rays.T * joints[:, 2] - joints[:, :2].T
    base = np.sqrt(pose.visibility[use])
    weight = np.broadcast_to(base, (2, count)).copy()
    place = np.zeros(3)
    residual_px = np.zeros((2, count))
    depth = np.ones(count)
    normal = np.eye(3)
    for _ in range(_STEPS):
        rows = (matrix * weight[..., None]).reshape(-1, 3)
        normal = rows.T @ rows
        try:
            place = np.linalg.solve(normal, rows.T @ (target * weight).ravel())
        except np.linalg.LinAlgError:
            return CueAbsent(NAME, "the joints in view do not fix a place")
        depth = joints[:, 2] + place[2]
        if not (depth > 0.05).all():
            return CueAbsent(NAME, "the fit puts the person behind the camera")
        residual_px = (matrix @ place - target) / depth * camera.fx_px
        size_px = np.hypot(residual_px[0], residual_px[1])
        huber = np.minimum(1.0, _HUBER_PX / np.maximum(size_px, 1e-9))
        weight = np.broadcast_to(base * np.sqrt(huber) / depth, (2, count)).copy()
    freedom = max(2 * count - 3, 1)
    variance = float(np.sum((residual_px / camera.fx_px) ** 2)) / freedom
    rows = (matrix / depth[:, None]).reshape(-1, 3)
    covariance = np.linalg.inv(rows.T @ rows) * variance
    return RigidFit(body + place, float(np.sqrt(covariance[2, 2]) / place[2]))
