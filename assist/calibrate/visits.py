"""What was seen at the measured marks, and how the camera was held meanwhile."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assist.calibrate.mark import Mark, MarkPicture
from assist.calibrate.tape import (
    GIVEN_TILT_SD_RAD,
    LEVEL_SD_RAD,
    Attitude,
    Tape,
    axis_depths,
    depth_sd,
    estimate_tilt,
)
from assist.pose import Pose
from optics.camera import PinholeCamera

_TILTS_DIFFER_RAD = math.radians(3)


@dataclass(frozen=True)
class Visit:
    """What was seen at one mark.

    pictures: times in seconds and poses.   across_m: how far the mark lies to the right of the
    first one, None where that was not measured.   stated: the mark as the person wrote it.
    """

    tape: Tape
    camera: PinholeCamera
    pictures: list[tuple[float, Pose]]
    across_m: float | None
    stated: str

    @property
    def poses(self) -> list[Pose]:
        """The poses without their times."""
        return [pose for _, pose in self.pictures]

    def mark(self, attitude: Attitude) -> Mark:
        """With the depths that follow from what was measured."""
        depths = axis_depths(self.tape, self.poses, self.camera, attitude)
        seen = [
            MarkPicture(self.camera, pose, when, depth)
            for (when, pose), depth in zip(self.pictures, depths, strict=True)
        ]
        uncertain = depth_sd(self.tape, self.poses, self.camera, attitude)
        return Mark(seen, self.across_m, uncertain, attitude.roll_rad, self.stated)


@dataclass(frozen=True)
class Holding:
    """What is known of how the feed's camera is held.

    tilt_rad: downwards from level; None where nobody said.   roll_rad: clockwise, seen from behind.
    height_m: of the lens above the ground; None where nobody said.
    """

    tilt_rad: float | None
    roll_rad: float
    height_m: float | None

    def by_the_feet(self, visits: Sequence[Visit], focal_sd: float) -> list[Attitude]:
        """What each mark says of the tilt, where it says anything.

        focal_sd: relative standard deviation of the feed's focal length.
        """
        if self.height_m is None:
            return []
        height_m, roll_rad = self.height_m, self.roll_rad
        found = [
            estimate_tilt(v.tape, v.poses, v.camera, height_m, roll_rad=roll_rad, focal_sd=focal_sd)
            for v in visits
        ]
        return [attitude for attitude in found if attitude is not None]

    def attitude(self, by_feet: Sequence[Attitude]) -> Attitude:
        """Given, else found by the feet where that could be done, else level."""
        if self.tilt_rad is not None:
            return Attitude(self.tilt_rad, GIVEN_TILT_SD_RAD, "given", self.roll_rad)
        if not by_feet:
            return Attitude(0.0, LEVEL_SD_RAD, "assumed", self.roll_rad)
        tilts = [found.tilt_rad for found in by_feet]
        sd = max(by_feet[0].tilt_sd_rad, float(np.std(tilts)))
        return Attitude(float(np.mean(tilts)), sd, "estimated", self.roll_rad)


def contradict(by_feet: Sequence[Attitude], attitude: Attitude) -> bool:
    """Whether some mark's feet ask for quite another tilt than that."""
    return any(abs(found.tilt_rad - attitude.tilt_rad) > _TILTS_DIFFER_RAD for found in by_feet)
