"""Distance by fitting the body, as a rigid whole, to its pixels.

The detector reports the body twice: in pixels, and in metres about the middle of the hips. There is
one place in front of the camera where the second, given the person's own lengths, is seen as the
first. This holds in any posture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assist.distance import CueAbsent
from assist.distance.observation import Observation
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

NAME = "rigid fit"

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
_LEAST_JOINTS = 4
_LEAST_SPREAD_PX = 20.0
_HUBER_M = 0.02
_STEPS = 3
_NEAREST_M = 0.05


@dataclass(frozen=True, slots=True)
class RigidFit:
    """The body placed in the camera frame.

    landmarks_m: (33, 3) all landmarks in the camera frame, metres.
    """

    landmarks_m: FloatArray


def fit(seen: Observation) -> RigidFit | CueAbsent:
    """Place the body: weighted least squares over translation, with Huber's weights.

    A joint with metric position p at t + p is seen at x = (p_x + t_x) / (p_z + t_z): linear in t
    once multiplied out; the residuals are then metres on the body.
    """
    use = _FITTED[seen.usable[_FITTED]]
    if use.size < _LEAST_JOINTS:
        return CueAbsent(NAME, f"only {use.size} joints are in view")
    rays = seen.rays[use]
    if float(np.ptp(rays, axis=0).max()) * seen.camera.fx_px < _LEAST_SPREAD_PX:
        return CueAbsent(NAME, "the person is too small in the picture", too_small=True)
    joints = seen.body_m[use]
    count = use.size
    matrix = np.zeros((2, count, 3))
    matrix[0, :, 0] = matrix[1, :, 1] = 1.0
    matrix[:, :, 2] = -rays.T
    target = rays.T * joints[:, 2] - joints[:, :2].T
    weight = np.ones(count)
    for _ in range(_STEPS):
        weighted = (matrix * weight[:, None]).reshape(-1, 3)
        normal = weighted.T @ matrix.reshape(-1, 3)
        try:
            place = np.linalg.solve(normal, target.ravel() @ weighted)
        except np.linalg.LinAlgError:
            return CueAbsent(NAME, "the joints in view do not fix a place")
        residual = matrix @ place - target
        weight = np.minimum(1.0, _HUBER_M / np.maximum(np.hypot(*residual), 1e-9))
    if not (joints[:, 2] + place[2] > _NEAREST_M).all():
        return CueAbsent(NAME, "the fit puts the person behind the camera")
    return RigidFit(seen.body_m + place)
