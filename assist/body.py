"""What is known about the person's body: a stature, a personal profile, or nobody in particular.

Distances from a body are only as good as the sizes assumed for it. They are held here as a
`BodyShape`: the lengths between the landmarks *as the pose detector places them*, which are not an
anatomist's (its hip lies lower than the joint, its shoulder nearer the middle), with what is not
known about them as standard deviations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

from assist.profile import PersonalProfile

ADULT_STATURE_M = 1.69
ADULT_STATURE_SD_M = 0.09
"""Adults, women and men together: means 1.629 and 1.756 m, standard deviations 0.064 and 0.069 m
(ANSUR II, NATICK/TR-15/007, 2014; from memory), mixed half and half."""

STATED_STATURE_SD = 0.01
"""Relative error of a stature as people state it, a centimetre or two. Common practice, no
source."""

PROPORTIONS_SD = 0.02
"""How far the size of a body, as its landmarks show it, departs from what its stature says,
relative: bodies of one stature differ in their proportions."""

GROWN_STATURE_M = 1.45
"""From this stature on a body is taken to have an adult's proportions."""

CHILD_STATURE_M = 1.20
CHILD_PROPORTIONS: dict[str, float] = {
    "shoulders": 0.96,
    "hips": 0.97,
    "side": 0.965,
    "upper_arm": 1.0,
    "forearm": 1.0,
    "thigh": 0.975,
    "shank": 0.935,
    "neck": 1.05,
}
"""What SEGMENTS_PER_STATURE is to be multiplied by at CHILD_STATURE_M, about seven years: the head
takes more of the stature, legs and trunk less. Sitting height is 55 to 56 % of the stature at 6 to
8.5 years and 52 to 54 % when grown (Bundak et al. 2014, Eur J Pediatr 173:861; abstract looked up),
so legs are 5 % shorter; how that is shared out is the body model's of `samples/rendering`. Between
the two statures it is interpolated, and carried on below to LEAST_CHILD_STATURE_M."""
LEAST_CHILD_STATURE_M = 1.0

CHILD_PROPORTIONS_SD = 0.035
"""As PROPORTIONS_SD, at CHILD_STATURE_M: whoever is so small may be grown up, too, with a grown
body's proportions or with quite others."""

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


@dataclass(frozen=True)
class BodyShape:
    """Lengths of one body between the detector's landmarks.

    segments_m: length of each of SEGMENTS, metres.
    head: size of the head over that of the adult mean (assist.distance.head); head_sd: its
        relative error.   face, face_sd: the same of the face (assist.distance.face_size).
    scale_sd: relative error common to all lengths.   segment_sd_m: error of each one by itself.
    """

    segments_m: dict[str, float]
    head: float
    head_sd: float
    scale_sd: float
    segment_sd_m: float
    face: float = 1.0
    face_sd: float = FACE_SD

    @property
    def stature_m(self) -> float:
        """The stature that a body of an adult's proportions and these long segments would have."""
        long = ("side", "thigh", "shank")
        return sum(self.segments_m[s] for s in long) / sum(SEGMENTS_PER_STATURE[s] for s in long)


def _childlike(stature_m: float) -> float:
    """How far a stature is from a grown body's, 1 at CHILD_STATURE_M."""
    below_m = GROWN_STATURE_M - max(stature_m, LEAST_CHILD_STATURE_M)
    return max(below_m, 0.0) / (GROWN_STATURE_M - CHILD_STATURE_M)


def shape_from_stature(stature_m: float, relative_sd: float) -> BodyShape:
    """Usual proportions at a stature known to `relative_sd`."""
    # Heads grow much less than bodies do: about a third as much, relative. So at five years (1.10 m)
    # a face has 0.87 of its adult breadth; 0.88 between the outer corners of the eyes (Farkas et al.
    # 1992, Cleft Palate Craniofac J 29:315), 0.86 between the pupils (exophthalmometry and age, a
    # cross-sectional study of 454, 1986; both abstracts looked up).
    head = (stature_m / ADULT_STATURE_M) ** (1 / 3)
    child = _childlike(stature_m)
    proportions_sd = PROPORTIONS_SD + child * (CHILD_PROPORTIONS_SD - PROPORTIONS_SD)
    return BodyShape(
        segments_m={
            name: part * stature_m * (1 + child * (CHILD_PROPORTIONS[name] - 1))
            for name, part in SEGMENTS_PER_STATURE.items()
        },
        head=head,
        # Where the stature is not known, neither is whether it is a child's head.
        head_sd=math.hypot(HEAD_SD, relative_sd),
        scale_sd=math.hypot(relative_sd, proportions_sd),
        segment_sd_m=0.015,
        face=head,
        face_sd=math.hypot(FACE_SD, relative_sd),
    )


def shape_from_profile(profile: PersonalProfile) -> BodyShape:
    """The body that a personal profile describes; what it lacks follows from its scale."""
    usual = shape_from_stature(ADULT_STATURE_M * profile.scale, 0.0)
    return BodyShape(
        segments_m={**usual.segments_m, **profile.segments_m},
        head=profile.head,
        head_sd=HEAD_SD if profile.head_sd is None else profile.head_sd,
        scale_sd=profile.scale_sd,
        segment_sd_m=0.015,
        face=usual.face if profile.face is None else profile.face,
        face_sd=FACE_SD if profile.face_sd is None else profile.face_sd,
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
