"""A person's heights above level ground, standing upright or sitting upright, from their stature.

Standing: Drillis and Contini 1966, in Winter, Biomechanics and Motor Control of Human Movement
(from memory), as fractions of stature.

Seated, the trunk keeps its proportions and sits lower: by the stature less the sitting height. The
medians for British adults that this is taken from, and checked against, were looked up in a public
copy of Pheasant's tables (City University of Hong Kong, "Online Anthropometry", chapter 2: pages 1,
2, 8, 10, 15 and 16). Whoever slumps or leans back sits up to 40 mm lower (the same, page 10).
"""

from __future__ import annotations

from dataclasses import dataclass

from optics.checks import positive

EYE_HEIGHT = 0.936
SHOULDER_HEIGHT = 0.818
HIP_HEIGHT = 0.530
KNEE_HEIGHT = 0.285
ANKLE_HEIGHT = 0.039
SHOULDER_BREADTH = 0.259

SITTING_HEIGHT = 0.525
"""Seat to crown, sitting upright: 910 of 1740 mm for men (0.523; looked up, as above); 0.522 and
0.526 for men and women in ANSUR II (from memory)."""

SITTING_LOWERS = 1.0 - SITTING_HEIGHT
"""By how much of the stature, less the height of the seat, a sitting trunk is lower."""

POPLITEAL_HEIGHT = 0.25
"""Sole to the hollow of the knee, which a thigh on a seat is level with: 440 of 1740 mm for men and
400 of 1610 mm for women (0.253 and 0.248; looked up, as above)."""

KNEES_BEFORE_EYES = 0.25
"""How much nearer than the eyes the shins are, sitting: a thigh (0.245) from the hip, which lies a
little behind the eyes, and half a shank's thickness. Common practice, no source."""

TOES_BEFORE_EYES = 0.37
"""The same of the toes, on a foot rest that holds the shanks 15 degrees forwards. Common practice,
no source."""

SEAT_HEIGHT_M = 0.50
"""Height of a seat that nobody stated, with somebody on it: 495 mm on average in manual
wheelchairs, 430 to 566 mm for nine of ten (Steinfeld and others 2010, Anthropometry of Wheeled
Mobility Project, 4.3.2; looked up). Chairs are 0.43 to 0.48 m. Common practice, no source."""


@dataclass(frozen=True)
class Edge:
    """Where a frame's lower edge cuts a body: how high, and how much nearer than the eyes."""

    height_m: float
    before_eyes_m: float


@dataclass(frozen=True)
class Figure:
    """A person of that stature, standing, or sitting upright on a seat of that height.

    Heights in metres above the ground. Raises ImpossibleValueError for sizes that are not above
    zero.
    """

    stature_m: float
    seat_height_m: float | None = None

    def __post_init__(self) -> None:
        positive("stature", self.stature_m)
        if self.seat_height_m is not None:
            positive("seat height", self.seat_height_m)

    @property
    def is_seated(self) -> bool:
        """Whether the person sits."""
        return self.seat_height_m is not None

    def on_trunk_m(self, standing: float) -> float:
        """Height of a part of trunk or head that, standing, is at that fraction of the stature."""
        if self.seat_height_m is None:
            return standing * self.stature_m
        return self.seat_height_m + (standing - SITTING_LOWERS) * self.stature_m

    @property
    def crown_m(self) -> float:
        """Top of the head."""
        return self.on_trunk_m(1.0)

    @property
    def eyes_m(self) -> float:
        """The eyes."""
        return self.on_trunk_m(EYE_HEIGHT)

    @property
    def knees_m(self) -> float:
        """The joint of the knee; on a low seat the soles stand on the ground."""
        standing = KNEE_HEIGHT * self.stature_m
        if self.seat_height_m is None:
            return standing
        return max(standing, self.seat_height_m + (KNEE_HEIGHT - POPLITEAL_HEIGHT) * self.stature_m)

    @property
    def before_eyes_m(self) -> float:
        """How much nearer to the camera than the eyes the body reaches: the toes of who sits."""
        return TOES_BEFORE_EYES * self.stature_m if self.is_seated else 0.0
