"""Where in a picture to measure: the eyes, and places whose depth is told by what they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assist.pose import Pose
from assist.pose.landmarks import Landmark

_EYES_ABOVE_MOUTH = 1.0
"""Distance between the pupils over that of the eyes from the mouth, seen from in front. Both are
about 63 mm in an adult (Dodgson 2004, SPIE 5291, for the pupils; the mouth from memory)."""
_HALF_WIDTH, _ABOVE, _BELOW = 0.42, 0.60, 0.38
"""How far a box reaches from the pupil: brows are at the eyes' depth and have what edges a small
eye lacks."""
_LEAST_UNIT_PX = 14.0


@dataclass(frozen=True, slots=True)
class Box:
    """A part of a picture, pixels; right and bottom excluded."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """Width, pixels."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Height, pixels."""
        return self.bottom - self.top

    def within(self, width_px: int, height_px: int) -> Box:
        """The part of it that lies inside a picture of that size."""
        return Box(
            min(max(self.left, 0), width_px),
            min(max(self.top, 0), height_px),
            min(max(self.right, 0), width_px),
            min(max(self.bottom, 0), height_px),
        )


@dataclass(frozen=True, slots=True)
class EyeRegion:
    """Where the eyes are in the whole picture.

    unit_px: about the distance between the pupils as seen from in front.
    eyes: a box for each eye that is in the picture.
    around: both boxes with a margin, the part of the picture to look at.
    """

    unit_px: float
    eyes: tuple[Box, ...]
    around: Box

    def mask(self) -> NDArray[np.bool_]:
        """(height, width) of `around`: true in the eyes' boxes."""
        mask = np.zeros((self.around.height, self.around.width), bool)
        for eye in self.eyes:
            mask[
                eye.top - self.around.top : eye.bottom - self.around.top,
                eye.left - self.around.left : eye.right - self.around.left,
            ] = True
        return mask


def eye_region(pose: Pose, scale: float, width_px: int, height_px: int) -> EyeRegion | None:
    """The eyes in the whole picture, or None where they are outside it or too small to judge.

    pose: found in a picture smaller by `scale`.
    """
    points = pose.image_px * scale
    left, right = points[Landmark.LEFT_EYE], points[Landmark.RIGHT_EYE]
    mouth = (points[Landmark.MOUTH_LEFT] + points[Landmark.MOUTH_RIGHT]) / 2
    apart = float(np.hypot(*(left - right)))
    tall = _EYES_ABOVE_MOUTH * float(np.hypot(*((left + right) / 2 - mouth)))
    unit = max(apart, tall)
    if unit < _LEAST_UNIT_PX:
        return None
    aside, above, below = _HALF_WIDTH * unit, _ABOVE * unit, _BELOW * unit
    boxes = []
    for eye in (left, right):
        x, y = float(eye[0]), float(eye[1])
        if not (0 <= x < width_px and 0 <= y < height_px):
            continue
        box = Box(int(x - aside), int(y - above), int(x + aside) + 1, int(y + below) + 1).within(
            width_px, height_px
        )
        boxes.append(box)
    if not boxes:
        return None
    margin = int(0.5 * unit) + 24
    around = Box(
        min(b.left for b in boxes) - margin,
        min(b.top for b in boxes) - margin,
        max(b.right for b in boxes) + margin,
        max(b.bottom for b in boxes) + margin,
    ).within(width_px, height_px)
    return EyeRegion(unit, tuple(boxes), around)


@dataclass(frozen=True, slots=True)
class OtherPlace:
    """A place that is not the eyes.

    depth: "nearer" than the eyes, "about" as far, "farther", as far as what it is tells.
    """

    name: str
    depth: str
    box: Box


def other_places(pose: Pose, scale: float, width_px: int, height_px: int) -> list[OtherPlace]:
    """Places to compare with the eyes: ground before the feet, hands in front, the background.

    The ground is taken to be level: below the feet it is nearer than the person, and what stands
    beside head and shoulders is behind them.
    """
    points = pose.image_px * scale
    shoulders = points[[Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]]
    hips = points[[Landmark.LEFT_HIP, Landmark.RIGHT_HIP]]
    torso = float(np.hypot(*(shoulders.mean(axis=0) - hips.mean(axis=0))))
    broad = max(float(np.ptp(shoulders[:, 0])), 0.5 * torso)
    side = int(np.clip(0.5 * torso, 96, 420))
    places: list[OtherPlace] = []

    def add(name: str, depth: str, x: float, y: float) -> None:
        half = side // 2
        box = Box(int(x) - half, int(y) - half, int(x) + half, int(y) + half)
        box = box.within(width_px, height_px)
        if box.width >= 0.7 * side and box.height >= 0.7 * side:
            places.append(OtherPlace(name, depth, box))

    eyes_y = float(points[[Landmark.LEFT_EYE, Landmark.RIGHT_EYE], 1].mean())
    middle_x = float(shoulders[:, 0].mean())
    away = 1.3 * broad + side / 2
    # As far out as the picture goes on each side, but not beyond where the person may be.
    for name, sign in (("left", -1), ("right", 1)):
        for step in (1.0, 1.8):
            add(f"background {name}", "farther", middle_x + sign * away * step, eyes_y)
    feet = points[
        [
            Landmark.LEFT_HEEL,
            Landmark.RIGHT_HEEL,
            Landmark.LEFT_FOOT_INDEX,
            Landmark.RIGHT_FOOT_INDEX,
        ]
    ]
    if ((feet[:, 1] > 0) & (feet[:, 1] < height_px)).all():
        below = float(feet[:, 1].max()) + 0.6 * side
        for x in (middle_x - broad, middle_x, middle_x + broad):
            add("ground in front", "nearer", x, below)
    world = pose.world_m
    eye_depth = float(world[[Landmark.LEFT_EYE, Landmark.RIGHT_EYE], 2].mean())
    for name, mark in (
        ("left hand", Landmark.LEFT_WRIST),
        ("right hand", Landmark.RIGHT_WRIST),
        ("left knee", Landmark.LEFT_KNEE),
        ("right knee", Landmark.RIGHT_KNEE),
    ):
        if pose.visibility[mark] < 0.6:
            continue
        gap = float(world[mark, 2]) - eye_depth
        if gap < -0.15:
            add(name, "nearer", float(points[mark, 0]), float(points[mark, 1]))
    add("chest", "about", middle_x, float(shoulders[:, 1].mean()) + 0.35 * torso)
    return places
