"""The picture that will be taken, as far as the feed tells of it.

A feed through the taking lens shows that picture itself. One beside the camera shows another: where
it is stated how it stands, what it sees is carried over into the taking camera's picture; where
not, nobody knows what that picture cuts off.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assist.distance import BodyDistance
from assist.pose import Pose
from assist.setup.set_up import SetUp
from optics.camera import PinholeCamera
from optics.checks import FloatArray
from optics.rigid import RigidOffset

_LONG_SIDE_PX = 3000


class TakenView:
    """Poses as the picture that will be taken has them.

    known: whether what is at its edges is known.
    """

    def __init__(self, set_up: SetUp) -> None:
        beside = set_up.feed.through == "own-lens"
        offset = set_up.feed.offset
        self.known = not beside or offset is not None
        self._offset = offset if beside else None
        self._taking = _taking_camera(set_up)

    def of(
        self, pose: Pose, body: BodyDistance | None, feed: PinholeCamera
    ) -> tuple[Pose, PinholeCamera]:
        """The pose in the picture that will be taken, and the camera of that picture.

        As the feed has them where that is the same picture, or nothing better is known.
        """
        if self._offset is None or body is None:
            return pose, feed
        pixels = _carried_over(pose, body, feed, self._offset, self._taking)
        if not np.isfinite(pixels).all():
            return pose, feed
        width_px, height_px = self._taking.width_px, self._taking.height_px
        there = replace(pose, image_px=pixels, width_px=width_px, height_px=height_px)
        return there, self._taking


def _taking_camera(set_up: SetUp) -> PinholeCamera:
    """The taking camera's whole picture, held as the set-up says."""
    sensor = set_up.sensor
    sides_m = sorted((sensor.width_m, sensor.height_m))
    short_px = round(_LONG_SIDE_PX * sides_m[0] / sides_m[1])
    upright = set_up.camera.orientation == "portrait"
    size_px = (short_px, _LONG_SIDE_PX) if upright else (_LONG_SIDE_PX, short_px)
    return PinholeCamera.from_lens(
        sensor, set_up.focal_length_m, set_up.focus_lens_distance_m, *size_px
    )


def _carried_over(
    pose: Pose, body: BodyDistance, feed: PinholeCamera, offset: RigidOffset, taking: PinholeCamera
) -> FloatArray:
    """(33, 2) pixels in the taking camera's picture; not finite behind it."""
    depth_m = offset.to_feed(body.landmarks_m)[:, 2]
    # What could not be measured is taken to be as far off as the rest: it is seen, or guessed, in
    # the direction that counts here.
    known = np.isfinite(depth_m)
    if not known.any():
        return np.full_like(pose.image_px, np.nan)
    depth_m = np.where(known, depth_m, depth_m[known].mean())
    return np.asarray(taking.project(offset.to_taking(feed.back_project(pose.image_px, depth_m))))
