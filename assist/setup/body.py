"""What is known about the person's body: a stature, a personal profile, or nobody in particular.

Distances from a body are only as good as the sizes assumed for it. They are held here as a
`BodyShape`: the lengths between the landmarks *as the pose detector places them*, which are not an
anatomist's (its hip lies lower than the joint, its shoulder nearer the middle), with what is not
known about them as standard deviations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import Literal, get_args

import numpy as np

from assist.setup.personal_profile import PersonalProfile
from optics.checks import FloatArray

ADULT_STATURE_M = 1.69
ADULT_STATURE_SD_M = 0.13
"""Adults, women and men together: means 1.629 and 1.756 m, standard deviations 0.064 and 0.069 m
(ANSUR II, NATICK/TR-15/007, 2014; from memory), which mixed half and half would be 0.09 m. Wider on
purpose: the 90 % interval is to hold for nearly everybody, from the first percentile of women
(1.48 m) to the ninety-ninth of men (1.92 m), not for nine people in ten and never for the tenth."""

STATED_STATURE_SD = 0.01
"""Relative error of a stature as people state it, a centimetre or two. Common practice, no
source."""

PROPORTIONS_SD = 0.02
"""How far the size of a body, as its landmarks show it, departs from what its stature says,
relative: bodies of one stature differ in their proportions."""

GROWN_STATURE_M = 1.45
"""From this stature on a body is taken to be grown up."""

CHILD_STATURE_M = 1.20
CHILD_PROPORTIONS_SD = 0.03
"""As PROPORTIONS_SD, at CHILD_STATURE_M, about seven years; in between it is interpolated. Children
sit taller: 55 to 56 % of the stature at 6 to 8.5 years, 52 to 54 % later (Bundak et al. 2014, Eur J
Pediatr 173:861; abstract looked up), so their legs are 5 % shorter. The detector places its
landmarks on a child much as on an adult: with an adult's proportions the distance of a rendered
child comes out right within 1 %, with a child's 3 % too near. But that was one child, and whoever
is so small may be grown up, too."""

HEAD_SD = 0.045
"""Adults' heads differ by about so much, relative (breadth 4 %, distance between the pupils 6 %;
from memory)."""

FACE_SD = 0.045
"""Adults' faces differ by about so much, relative; from memory, as above."""

SEGMENTS = (
    "shoulders",
    "hips",
    "side",
    "upper_arm",
    "forearm",
    "thigh",
    "shank",
    "neck",
)
"""The lengths a profile may hold. `shoulders` and `hips` are breadths, `side` goes from shoulder to
hip, `neck` from the middle of the shoulders to the middle of the ears; the others are per limb."""

SEGMENTS_PER_STATURE: dict[str, float] = {
    "shoulders": 0.202,
    "hips": 0.119,
    "side": 0.289,
    "upper_arm": 0.159,
    "forearm": 0.151,
    "thigh": 0.221,
    "shank": 0.228,
    "neck": 0.129,
}
"""Lengths between the detector's landmarks over the stature: as it places them on rendered bodies
of known stature, times 1.015, for what the fit loses where the posture is misjudged."""

STEP_OF_STATURE = 0.41
"""Step length at an easy walk over stature. Common practice, no source."""

Limb = Literal[
    "left-hand", "right-hand", "left-arm", "right-arm",
    "left-foot", "right-foot", "left-leg", "right-leg",
]  # fmt: skip
"""A limb from its wrist, elbow, ankle or knee on. Left and right are the person's own."""
LIMBS: tuple[Limb, ...] = get_args(Limb)


class Posture(Enum):
    """How the body is held up."""

    STANDING = "standing"
    SEATED = "seated"
    NOT_SURE = "not sure"


@dataclass(frozen=True)
class BodyShape:
    """Lengths of one body between the detector's landmarks.

    segments_m: length of each of SEGMENTS, metres.
    head: size of the head over that of the adult mean (assist.distance.head); head_sd: its
        relative error.   face, face_sd: the same of the face (assist.distance.face_size).
    scale_sd: relative error common to all lengths.   segment_sd_m: error of each one by itself.
    shared_sd: the part of scale_sd, head_sd and face_sd that is one error: a stature not known, or
        the tape at the mark where all were learned.   head_follows: how much of it the sizes of
        head and face follow, 1 for all.
    """

    segments_m: dict[str, float]
    head: float
    head_sd: float
    scale_sd: float
    segment_sd_m: float
    face: float = 1.0
    face_sd: float = FACE_SD
    shared_sd: float = 0.0
    head_follows: float = 1.0

    @property
    def size_covariance(self) -> FloatArray:
        """(3, 3) covariance of the relative errors of body, face and head, in this order."""
        head_sd = self.shared_sd * self.head_follows
        body, head = self.shared_sd * head_sd, head_sd**2
        return np.array(
            [
                [self.scale_sd**2, body, body],
                [body, self.face_sd**2, head],
                [body, head, self.head_sd**2],
            ]
        )

    @property
    def stature_m(self) -> float:
        """The stature that a body of usual proportions and these long segments would have."""
        long = ("side", "thigh", "shank")
        return sum(self.segments_m[s] for s in long) / sum(SEGMENTS_PER_STATURE[s] for s in long)


def _proportions_sd(stature_m: float) -> float:
    """PROPORTIONS_SD for the grown, CHILD_PROPORTIONS_SD for the small."""
    share = (GROWN_STATURE_M - stature_m) / (GROWN_STATURE_M - CHILD_STATURE_M)
    return PROPORTIONS_SD + min(max(share, 0.0), 1.0) * (CHILD_PROPORTIONS_SD - PROPORTIONS_SD)


_HEAD_FOLLOWS = 1 / 3
"""How much of a body's growth its head shares, relative: see `shape_from_stature`."""


def shape_from_stature(stature_m: float, relative_sd: float) -> BodyShape:
    """Usual proportions at a stature known to `relative_sd`."""
    # Heads grow much less than bodies do: about a third as much, relative. So at five years,
    # 1.10 m, a face is 0.87 of an adult's. The outer corners of the eyes are 0.88 as far apart
    # (Farkas et al. 1992, Cleft Palate Craniofac J 29:315), the pupils 0.86 ("Exophthalmometry and
    # age", cross-sectional, 1986); both abstracts looked up.
    head = (stature_m / ADULT_STATURE_M) ** _HEAD_FOLLOWS
    return BodyShape(
        segments_m={name: part * stature_m for name, part in SEGMENTS_PER_STATURE.items()},
        head=head,
        # Where the stature is not known, neither is whether it is a child's head.
        head_sd=math.hypot(HEAD_SD, relative_sd),
        scale_sd=math.hypot(relative_sd, _proportions_sd(stature_m)),
        segment_sd_m=0.015,
        face=head,
        face_sd=math.hypot(FACE_SD, relative_sd),
        shared_sd=relative_sd,
        head_follows=_HEAD_FOLLOWS,
    )


SOME_CHILD = shape_from_stature(1.25, 0.13)
"""A child of unknown age, or somebody else who is small: about 1.00 to 1.50 m."""


def shape_from_profile(profile: PersonalProfile) -> BodyShape:
    """The body that a personal profile describes; what it lacks follows from its scale."""
    usual = shape_from_stature(ADULT_STATURE_M * profile.scale, 0.0)
    head_sd = HEAD_SD if profile.head_sd is None else profile.head_sd
    face_sd = FACE_SD if profile.face_sd is None else profile.face_sd
    return BodyShape(
        segments_m={**usual.segments_m, **profile.segments_m},
        head=profile.head,
        head_sd=head_sd,
        scale_sd=profile.scale_sd,
        segment_sd_m=0.015,
        face=usual.face if profile.face is None else profile.face,
        face_sd=face_sd,
        # Learned at one mark, they share the error of its tape and of the feed's focal length.
        shared_sd=min(profile.scale_sd, head_sd, face_sd),
    )


@dataclass(frozen=True)
class Person:
    """The person in the picture.

    stature_m: height without shoes; None where unknown.
    profile: what a calibration at a mark learned about this person; goes before the stature.
    """

    stature_m: float | None = None
    profile: PersonalProfile | None = field(default=None, repr=False)

    @property
    def unknown(self) -> bool:
        """Whether neither stature nor profile is known, so that an adult is assumed."""
        return self.profile is None and self.stature_m is None

    @cached_property
    def shape(self) -> BodyShape:
        """The best that is known of the body's lengths."""
        if self.profile is not None:
            return shape_from_profile(self.profile)
        if self.stature_m is not None:
            return shape_from_stature(self.stature_m, STATED_STATURE_SD)
        return shape_from_stature(ADULT_STATURE_M, ADULT_STATURE_SD_M / ADULT_STATURE_M)
