"""Which part of the person the picture cuts off, and where in it they stand."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.pose.limbs import MARKS
from assist.setup.body import Limb

_FEET = (
    Landmark.LEFT_HEEL,
    Landmark.RIGHT_HEEL,
    Landmark.LEFT_FOOT_INDEX,
    Landmark.RIGHT_FOOT_INDEX,
)
_KNEES = (Landmark.LEFT_KNEE, Landmark.RIGHT_KNEE)
_HIPS = (Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
_HANDS = (Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST)
_HEAD = (
    Landmark.NOSE,
    Landmark.LEFT_EYE,
    Landmark.RIGHT_EYE,
    Landmark.LEFT_EAR,
    Landmark.RIGHT_EAR,
)
_CROWN_ABOVE_EYES = 2.2
"""Height of the crown above the eyes, in heights of the eyes above the mouth. The eyes are half-way
up the head, and the mouth about a quarter; hair adds a little. Common practice, no source."""

_SIDE_ON = 0.3
"""Shoulder breadth over torso height below which the shoulders no longer tell front from back."""


@dataclass(frozen=True, slots=True)
class Framing:
    """How the person fits the picture.

    shows: the largest part wholly in the picture, in the trade's words.
    cut: what the picture's edges cut off.
    across: middle of the shoulders across the unmirrored picture, from 0 at its left edge to 1.
    headroom: space above the crown as a part of the picture's height; negative when cut.
    """

    shows: str
    cut: tuple[str, ...]
    across: float
    headroom: float


def check(pose: Pose, absent: Collection[Limb] = frozenset()) -> Framing:
    """Framing of the person in their picture; limbs that are `absent` cannot be cut."""
    inside = pose.inside
    inside[[mark for limb in absent for mark in MARKS[limb]]] = True
    eyes_y = float(pose.middle_px(Landmark.LEFT_EYE, Landmark.RIGHT_EYE)[1])
    mouth_y = float(pose.middle_px(Landmark.MOUTH_LEFT, Landmark.MOUTH_RIGHT)[1])
    crown_y = eyes_y - _CROWN_ABOVE_EYES * abs(mouth_y - eyes_y)
    shoulders = pose.middle_px(Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    cut = []
    if crown_y < 0 or not inside[list(_HEAD)].all():
        cut.append("head")
    if not inside[list(_HANDS)].all():
        cut.append("hand")
    if not inside[list(_FEET)].all():
        cut.append("feet")
    if inside[list(_FEET)].all():
        shows = "full body"
    elif inside[list(_KNEES)].all():
        shows = "knees-up"
    elif inside[list(_HIPS)].all():
        shows = "waist-up"
    else:
        shows = "head and shoulders"
    across, headroom = float(shoulders[0]) / pose.width_px, crown_y / pose.height_px
    return Framing(shows, tuple(cut), across, headroom)


def faces_camera(pose: Pose) -> bool:
    """Whether the person's front is towards the camera."""
    shoulders = pose.image_px[[Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]]
    hips = pose.image_px[[Landmark.LEFT_HIP, Landmark.RIGHT_HIP]]
    torso_px = abs(float(hips[:, 1].mean() - shoulders[:, 1].mean()))
    breadth_px = float(shoulders[0, 0] - shoulders[1, 0])
    if abs(breadth_px) >= _SIDE_ON * torso_px:
        return breadth_px > 0  # from in front, their left shoulder is on the right
    ears_z = pose.world_m[[Landmark.LEFT_EAR, Landmark.RIGHT_EAR], 2].mean()
    return bool(pose.world_m[Landmark.NOSE, 2] <= ears_z)
