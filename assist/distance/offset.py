"""A body seen by the feed's camera, told as the taking camera sees it."""

from __future__ import annotations

from dataclasses import replace

from assist.distance import BodyDistance
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.camera import PinholeCamera
from optics.rigid import RigidOffset


def seen_from_taking(
    body: BodyDistance, pose: Pose, camera: PinholeCamera, offset: RigidOffset
) -> BodyDistance:
    """The same body with every depth along the taking camera's axis, from its lens.

    The standard deviations are kept: they lie along the feed's rays, and the two cameras stand side
    by side, looking nearly the same way.
    """
    eyes_px = pose.middle_px(Landmark.LEFT_EYE, Landmark.RIGHT_EYE)
    hips_px = pose.middle_px(Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
    eyes_m = offset.depth_in_taking_m(camera.back_project(eyes_px, body.eyes_m))
    hips_m = offset.depth_in_taking_m(camera.back_project(hips_px, body.hips_m))
    return replace(
        body,
        eyes_m=float(eyes_m),
        hips_m=float(hips_m),
        landmarks_m=offset.to_taking(body.landmarks_m),
    )
