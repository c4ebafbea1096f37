"""How the followed person holds and moves: posture, limbs, facing, stillness, and how they lie."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from assist.pose import Pose
from assist.pose.facing import FacingWatch, TurningWatch
from assist.pose.framing import faces_camera
from assist.pose.limbs import LimbWatch, without
from assist.pose.picture_rotation import PictureRotationWatch
from assist.pose.posture import PostureWatch
from assist.pose.stillness import Stillness
from assist.setup.body import Limb, Posture


@dataclass(frozen=True, slots=True)
class PersonState:
    """What one picture, and those before it, tell of the person besides where they are.

    absent: limbs not to talk about.
    faces_camera: whether their front is towards the camera; taken for granted where nothing tells.
    facing_known: whether that has held for so long that "left" and "right" mean something to them.
    turning: whether they turn round; what then looks like walking is not believed.
    still: whether they stand still enough for the picture.
    rotate_deg: what the feed would have to be turned by if its picture lies on its side, as it
        seems to; None where it does not.
    rotation_noticed: whether that was noticed so recently that it is to be told.
    """

    posture: Posture = Posture.NOT_SURE
    absent: frozenset[Limb] = frozenset()
    faces_camera: bool = True
    facing_known: bool = False
    turning: bool = False
    still: bool = False
    rotate_deg: int | None = None
    rotation_noticed: bool = False


class PersonWatcher:
    """Watches one person, picture by picture.

    stated_posture, absent: what the user stated, which goes before what is seen.
    rotated_deg: by how much the feed is turned already, clockwise.
    """

    def __init__(
        self,
        stated_posture: Posture | None = None,
        absent: Iterable[Limb] = (),
        rotated_deg: int = 0,
    ) -> None:
        self._posture = PostureWatch(stated_posture)
        self._limbs = LimbWatch(absent)
        self._facing = FacingWatch()
        self._turning = TurningWatch()
        self._stillness = Stillness()
        self._rotation = PictureRotationWatch()
        self._rotated_deg = rotated_deg

    def forget(self) -> None:
        """Begin anew with another person."""
        self._posture.forget()
        self._limbs.forget()

    def update(self, time_s: float, pose: Pose | None) -> PersonState:
        """The state after the next picture; None: the person is not in it."""
        absent = self._limbs.update(time_s, pose)
        if pose is not None:
            pose = without(pose, absent)
        self._rotation.update(time_s, pose)
        # In a picture on its side nothing tells front from back, and nobody is told to turn.
        facing = pose is None or self._rotation.turn_deg is not None or faces_camera(pose)
        return PersonState(
            self._posture.update(time_s, pose),
            absent,
            facing,
            self._facing.update(time_s, None if pose is None else facing),
            self._turning.update(time_s, pose),
            self._stillness.update(time_s, pose),
            self._rotate_deg,
            pose is not None and self._rotation.just_noticed(time_s),
        )

    def unseen(self, time_s: float) -> PersonState:
        """The state when no news has come: the person may have turned or sat down meanwhile."""
        self._facing.update(time_s, None)
        self._turning.update(time_s, None)
        self._stillness.update(time_s, None)
        self._posture.forget()
        return PersonState(self._posture.now, rotate_deg=self._rotate_deg)

    @property
    def _rotate_deg(self) -> int | None:
        """What `--rotate` would have to be if the picture lies on its side; None if it does not."""
        turn_deg = self._rotation.turn_deg
        return None if turn_deg is None else (self._rotated_deg + turn_deg) % 360
