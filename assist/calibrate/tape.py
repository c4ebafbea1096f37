"""What was measured to a mark, and where that puts the body along the camera's axis.

A tape runs along the floor or to the face; a distance, here, is axial depth. With a level camera
and the mark straight ahead the three are nearly one. With a tilted camera they are not: a floor
distance D is seen at depth D / (c - s y) by a ray with downward component y, where c and s are
cosine and sine of the tilt, and differs by some percent at twenty degrees.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assist.base.errors import UserError
from assist.base.words import _
from assist.distance.head import HEAD_POINTS_M, head_axes
from assist.distance.observation import LEAST_VISIBILITY
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.camera import PinholeCamera
from optics.checks import FloatArray
from optics.rays import rotation_to_ray, straight_down

Measured = Literal["floor", "face", "axis"]

GIVEN_TILT_SD_RAD = math.radians(0.5)
LEVEL_SD_RAD = math.radians(5)
"""How far from level a camera may be that nobody said anything of. Common practice, no source."""
_ESTIMATED_SD_RAD = math.radians(0.7)
_FOOT_ANGLE_RAD = 0.3
"""Usual angle between the feet and the axis: a mistaken focal length errs by its share of it."""
_STEEPEST_RAD = math.radians(60)
_FACING = math.cos(math.radians(25))
_LEAST_FEET = 5

L = Landmark
_AXIS_PAIRS = (
    (L.LEFT_EAR, L.RIGHT_EAR), (L.LEFT_SHOULDER, L.RIGHT_SHOULDER), (L.LEFT_HIP, L.RIGHT_HIP),
)  # fmt: skip
_FEET = [
    L.LEFT_HEEL, L.RIGHT_HEEL, L.LEFT_FOOT_INDEX, L.RIGHT_FOOT_INDEX, L.LEFT_ANKLE, L.RIGHT_ANKLE,
]  # fmt: skip
_FEET_ABOVE_GROUND_M = np.array([0.03, 0.03, 0.02, 0.02, 0.075, 0.075])
_EYES_FROM_EARS_M = HEAD_POINTS_M[1:3].mean(axis=0)


@dataclass(frozen=True, slots=True)
class Tape:
    """One measured length to a mark.

    measured: along the floor from below the camera's sensor plane, from there to the eyes of the
        person facing the camera, or along the camera's axis.
    ahead: whether a floor length goes straight ahead, the mark lying to the side of its end, rather
        than to the mark itself.
    sensor_offset_m: how far the sensor plane lies behind the lens.
    """

    length_m: float
    measured: Measured = "floor"
    ahead: bool = False
    sensor_offset_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Attitude:
    """How the camera is held; `source` says where the tilt comes from.

    tilt_rad: downwards from level.   roll_rad: clockwise, seen from behind.
    """

    tilt_rad: float
    tilt_sd_rad: float
    source: Literal["given", "estimated", "assumed"]
    roll_rad: float = 0.0


def _horizontal(tilt_rad: float, roll_rad: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Unit vectors ahead, to the right and down, of level ground in the camera's frame."""
    down = straight_down(tilt_rad, roll_rad)
    ahead = (np.array([0.0, 0.0, 1.0]) - math.sin(tilt_rad) * down) / math.cos(tilt_rad)
    return ahead, np.cross(down, ahead), down


def _rays(camera: PinholeCamera, pixels: FloatArray) -> FloatArray:
    """(n, 3) x / z, y / z, 1."""
    flat = camera.normalised(pixels)
    return np.concatenate([flat, np.ones((len(flat), 1))], axis=1)


def _floor_m(
    tape: Tape, poses: Sequence[Pose], camera: PinholeCamera, tilt_rad: float, roll_rad: float
) -> float:
    """Distance of the body's axis from the lens over level ground, metres."""
    back_m = tape.sensor_offset_m * math.cos(tilt_rad)
    if tape.measured != "face":
        return tape.length_m - back_m
    ahead, right, _down = _horizontal(tilt_rad, roll_rad)
    found = []
    for pose in poses:
        [ray] = _rays(camera, pose.image_px[[L.LEFT_EYE, L.RIGHT_EYE]].mean(axis=0)[None])
        towards = ray / np.linalg.norm(ray)
        axes = head_axes(pose.world_m @ rotation_to_ray(towards).T)
        if float(axes[2] @ towards) > -_FACING:
            continue
        # The tape starts behind the lens: |z ray + (0, 0, offset)| is its length.
        a, o = float(ray @ ray), tape.sensor_offset_m
        inside = o * o - a * (o * o - tape.length_m**2)
        ears = (math.sqrt(max(inside, 0.0)) - o) / a * ray - _EYES_FROM_EARS_M @ axes
        found.append(math.hypot(float(ears @ ahead), float(ears @ right)))
    if not found:
        raise UserError(
            _(
                "the tape was measured to the face, and no picture shows the face turned to the "
                "camera"
            )
        )
    return float(np.median(found))


def axis_depths(
    tape: Tape, poses: Sequence[Pose], camera: PinholeCamera, attitude: Attitude
) -> list[float]:
    """Axial depth from the lens of the body's axis in each picture: ears, shoulders and hips.

    They are taken to be over the mark, as those of somebody upright are. Raises UserError when the
    mark cannot be where it is said to be.
    """
    return _depths(tape, poses, camera, attitude.tilt_rad, attitude.roll_rad)


def depth_sd(tape: Tape, poses: Sequence[Pose], camera: PinholeCamera, attitude: Attitude) -> float:
    """Relative standard deviation of the depths that comes from what is not known of the tilt."""
    tilt, sd = attitude.tilt_rad, attitude.tilt_sd_rad
    middle = float(np.median(_depths(tape, poses, camera, tilt, attitude.roll_rad)))
    changed = [
        float(np.median(_depths(tape, poses, camera, tilt + turn, attitude.roll_rad)))
        for turn in (-sd, sd)
    ]
    return max(abs(depth / middle - 1) for depth in changed)


def _depths(
    tape: Tape, poses: Sequence[Pose], camera: PinholeCamera, tilt_rad: float, roll_rad: float
) -> list[float]:
    if tape.measured == "axis":
        return [tape.length_m - tape.sensor_offset_m] * len(poses)
    floor_m = _floor_m(tape, poses, camera, tilt_rad, roll_rad)
    ahead, right, _down = _horizontal(tilt_rad, roll_rad)
    straight = tape.measured == "floor" and tape.ahead
    depths = []
    for pose in poses:
        middles = np.stack([pose.image_px[list(pair)].mean(axis=0) for pair in _AXIS_PAIRS])
        rays = _rays(camera, middles)
        forwards = rays @ ahead
        if float(forwards.min()) < 0.1:
            raise UserError(
                _(
                    "with a tilt of {degrees} degrees nobody in the picture stands on the ground "
                    "before the camera: downwards is positive",
                    degrees=f"{math.degrees(tilt_rad):.0f}",
                )
            )
        over_ground = forwards if straight else np.hypot(forwards, rays @ right)
        depths.append(float((floor_m / over_ground).mean()))
    return depths


def estimate_tilt(
    tape: Tape,
    poses: Sequence[Pose],
    camera: PinholeCamera,
    height_m: float,
    *,
    roll_rad: float = 0.0,
    focal_sd: float = 0.0,
) -> Attitude | None:
    """The tilt that puts the feet on the ground at the mark; None when they are hardly ever seen.

    height_m: of the lens above the ground.   focal_sd: relative, of the camera's focal length.
    """
    standing = [
        pose
        for pose in poses
        if pose.inside[_FEET].all() and float(pose.visibility[_FEET].min()) >= LEAST_VISIBILITY
    ]
    if len(standing) < _LEAST_FEET or tape.measured == "axis":
        return None
    feet = [_rays(camera, pose.image_px[_FEET]) for pose in standing]

    def excess(tilt_rad: float) -> float:
        """How much too far below the horizon the feet are seen, as a slope."""
        ahead, right, down = _horizontal(tilt_rad, roll_rad)
        floor_m = _floor_m(tape, standing, camera, tilt_rad, roll_rad)
        found = []
        for rays in feet:
            forwards = np.maximum(rays @ ahead, 0.05)
            straight = tape.measured == "floor" and tape.ahead
            over = forwards if straight else np.hypot(forwards, rays @ right)
            slopes = (height_m - _FEET_ABOVE_GROUND_M) / floor_m
            found.append(float((rays @ down / over - slopes).mean()))
        return float(np.median(found))

    low, high = -_STEEPEST_RAD, _STEEPEST_RAD
    if excess(low) > 0 or excess(high) < 0:
        return None
    for _step in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if excess(middle) < 0 else (low, middle)
    sd = math.hypot(_ESTIMATED_SD_RAD, _FOOT_ANGLE_RAD * focal_sd)
    return Attitude((low + high) / 2, sd, "estimated", roll_rad)
