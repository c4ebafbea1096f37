"""What else would make the picture better: where the person stands in it, what is cut or soft.

Advice comes after the one action that matters most, the distance of the eyes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assist.distance import BodyDistance
from assist.pose.framing import Framing
from assist.pose.landmarks import Landmark
from optics.camera import PinholeCamera
from optics.focus_zone import FocusZone

OFF_CENTRE = 0.15
"""How far from the wanted place across the picture a person may stand, in picture widths."""
BESIDE_OTHERS = 0.25
"""How far to each side of the wanted place several people may spread, in picture widths: all of
them are then to stand in the middle four fifths."""
_PART_MARGIN_M = 0.10
"""A part's depth against the eyes' is known to about this; less is not worth a word."""
_PARTS: dict[str, tuple[Landmark, ...]] = {
    "hand": (Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST),
    "elbow": (Landmark.LEFT_ELBOW, Landmark.RIGHT_ELBOW),
    "shoulder": (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER),
    "knee": (Landmark.LEFT_KNEE, Landmark.RIGHT_KNEE),
    "foot": (Landmark.LEFT_FOOT_INDEX, Landmark.RIGHT_FOOT_INDEX),
}


_LOWEST = {
    "knees-up": ("knees", frozenset({"full body", "knees-up"})),
    "waist-up": ("waist", frozenset({"full body", "knees-up", "waist-up"})),
}
"""Of shot sizes that end between head and feet: the lowest part, and what shows it or more."""


@dataclass(frozen=True, slots=True)
class Sideways:
    """To go sideways by so much, positive to the right of the unmirrored picture."""

    across_m: float
    to_own_left: bool


@dataclass(frozen=True, slots=True)
class CutOff:
    """These parts are cut off by the picture's edge, and should not be."""

    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TurnToCamera:
    """The person's front is away from the camera."""


@dataclass(frozen=True, slots=True)
class OutOfZone:
    """A part of the body lies outside the focus zone by so much."""

    part: str
    beyond_m: float
    too_near: bool


@dataclass(frozen=True, slots=True)
class Exchanged:
    """Left and right seem exchanged: the feed mirrors its picture, or is said to and does not.

    put_right: whether it is taken to mirror it.
    """

    put_right: bool


Advice = Sideways | CutOff | TurnToCamera | OutOfZone | Exchanged
"""One piece of further advice."""


@dataclass(frozen=True, slots=True)
class WantedFraming:
    """The framing that is wanted.

    shot_size: name of the shot size, None for whatever comes.   across: place of the person across
    the unmirrored picture, 0 left to 1 right.   spread: how far to each side of it they may stand
    as well, in picture widths, being one of several.
    """

    shot_size: str | None = None
    across: float = 0.5
    spread: float = 0.0

    def off(self, framing: Framing) -> float:
        """How far to the right they would have to go to stand where they should, picture widths."""
        near = min(max(framing.across, self.across - self.spread), self.across + self.spread)
        return near - framing.across

    @property
    def unwanted_cuts(self) -> frozenset[str]:
        """Parts that this framing must not cut. A shot of part of the body cuts the rest."""
        if self.shot_size in (None, "full-body"):
            return frozenset({"head", "hand", "feet"})
        return frozenset({"head", "hand"}) if self.shot_size == "knees-up" else frozenset({"head"})

    def allows(self, framing: Framing) -> bool:
        """Whether the picture may be taken so; where no shot was asked for, the head must be in."""
        if abs(self.off(framing)) > OFF_CENTRE:
            return False
        return "head" not in framing.cut if self.shot_size is None else not cuts(framing, self)


def cuts(framing: Framing, wanted: WantedFraming) -> tuple[str, ...]:
    """What the picture's edge cuts off and should not."""
    parts = [part for part in framing.cut if part in wanted.unwanted_cuts]
    if wanted.shot_size in _LOWEST:
        lowest, shown_by = _LOWEST[wanted.shot_size]
        if framing.shows not in shown_by:
            parts.append(lowest)
    return tuple(parts)


def across_m(
    framing: Framing, eyes_m: float, camera: PinholeCamera, wanted: WantedFraming
) -> float | None:
    """How far to go to stand where the framing wants it, metres; None where that is near enough.

    Positive to the right of the unmirrored picture.
    """
    off = wanted.off(framing)
    return None if abs(off) <= OFF_CENTRE else off * camera.width_px / camera.fx_px * eyes_m


def sideways(across_m: float, faces_camera: bool) -> Sideways:
    """The same as advice, in the person's own left and right.

    To someone who faces the camera, the right side of the unmirrored picture is their left.
    """
    return Sideways(across_m, to_own_left=(across_m > 0) == faces_camera)


def part_outside(body: BodyDistance, zone: FocusZone) -> OutOfZone | None:
    """The part of the body that is farthest outside the zone, if any is by more than the margin."""
    worst: OutOfZone | None = None
    depth = body.landmarks_m[:, 2]
    for part, marks in _PARTS.items():
        for mark in marks:
            z = float(depth[mark])
            if np.isnan(z):
                continue
            for beyond_m, too_near in ((zone.near_m - z, True), (z - zone.far_m, False)):
                if beyond_m > (_PART_MARGIN_M if worst is None else worst.beyond_m):
                    worst = OutOfZone(part, beyond_m, too_near)
    return worst
