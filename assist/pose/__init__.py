"""What a pose is, and what a detector of poses must do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage
from assist.pose.face import Face
from assist.pose.landmarks import COUNT, Landmark
from optics.checks import FloatArray

if TYPE_CHECKING:
    from assist.pose.looks import Looks

__all__ = ["ColourImage", "Face", "Glance", "Pose", "PoseDetector", "Someone"]


@dataclass(frozen=True, slots=True)
class Pose:
    """One person in one picture.

    image_px: (33, 2) landmarks in pixels of the picture, from its outer edge; may lie outside.
    world_m: (33, 3) landmarks in metres, middle of the hips at zero, x right, y down, z away from
        the camera, about aligned with the camera; of the detector's own idea of a body's size.
    visibility: (33,) from 0 to 1: the detector's belief that a landmark is in view, not hidden.
    width_px, height_px: of the picture.
    face: the face, where it was looked for and found.
    """

    image_px: FloatArray
    world_m: FloatArray
    visibility: FloatArray
    width_px: int
    height_px: int
    face: Face | None = None

    def __post_init__(self) -> None:
        wanted = {"image_px": (COUNT, 2), "world_m": (COUNT, 3), "visibility": (COUNT,)}
        for name, want in wanted.items():
            got = getattr(self, name).shape
            if got != want:
                raise ValueError(f"{name}: expected shape {want}, got {got}")

    @property
    def inside(self) -> NDArray[np.bool_]:
        """(33,) whether each landmark lies within the picture.

        The detector goes on guessing beyond the edge, with high visibility now and then: position
        tells better than visibility.
        """
        x, y = self.image_px[:, 0], self.image_px[:, 1]
        return (x >= 0) & (x <= self.width_px) & (y >= 0) & (y <= self.height_px)

    def middle_px(self, one: Landmark, other: Landmark) -> FloatArray:
        """Middle (2,) of two landmarks, in pixels."""
        return np.asarray((self.image_px[one] + self.image_px[other]) / 2)


@dataclass(frozen=True, slots=True)
class Someone:
    """Somebody besides the people whom the pose network follows.

    looks: how they are dressed, None where too little of them is in the picture.
    """

    pose: Pose
    looks: Looks | None


@dataclass(frozen=True, slots=True)
class Glance:
    """Who else was seen in a whole picture.

    time_s: that picture's time, a little before that of the newest one.
    """

    time_s: float
    others: tuple[Someone, ...]


class PoseDetector(Protocol):
    """Finds people in successive pictures of one feed.

    What has a default here, a class that names this one as its base need not define.
    """

    threads: frozenset[int] = frozenset()
    """The system's numbers of the network's own threads, as far as they are known."""

    def detect(self, picture: ColourImage, time_s: float) -> list[Pose] | None:
        """The people in view, in no certain order; `time_s` must not go back.

        None when the network failed at the picture, which does not mean that no one is in it.
        """
        ...

    def glance(self, *, wait: bool) -> Glance | None:
        """What a look round for others has found, once, where there was one since the last call.

        wait: whether to wait for it, as where every picture counts.
        """
        del wait
        return None

    def attend(self, pose: Pose) -> None:
        """Take this one of the people found for the one whose face is wanted."""

    def search_again(self, not_these: Sequence[Pose]) -> None:
        """Find the person anew in the next picture, and not one of these."""

    def close(self) -> None:
        """Free the network; safe to call twice."""
        ...
