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
ADULT_STATURE_SD_M = 0.19
"""Adults of any people, women and men. Of those born in 1996 women are 1.49 m (Guatemala) to 1.70 m
(Latvia) on average, men 1.60 m (Timor-Leste) to 1.83 m (Netherlands): NCD-RisC 2016, eLife
5:e13410, looked up; within a people they differ by about 0.065 m (from memory). The 90 % interval
reaches from 1.41 to 2.03 m: from the tenth percentile of the shortest people's women to beyond the
ninety-ninth of the tallest's men. That is wider than the mixture of all adults, about 0.09 m, on
purpose: with the mixture the interval would hold nine times in ten over people drawn by lot, and
never for somebody of 1.48 or 1.95 m. It is to hold for each of them."""

OVERSTATED_M = 0.010
STATED_STATURE_SD_M = 0.025
"""By how much statures are stated too tall, and their spread. 1,634 people of 70 and more: 0.93 cm
(standard deviation 2.48) for men, 1.23 cm (2.84) for women, more with age (Yong and Saito, "How
accurate are self-reported height, weight, and BMI among community-dwelling elderly Japanese?";
abstract looked up). It is not so of everybody: 182 people who exercise said
2.1 cm too little (2.1), by the data of Davis 1990, Appetite 15:13, as R's carData carries them. Of
younger adults most surveys find 0.5 to 1.5 cm too much (from memory). A table for designers warns
of 2.5 cm on average (City University of Hong Kong, "Online Anthropometry" 2-1; looked up; no survey
named): within the spread taken here."""

MEASURED_STATURE_SD_M = 0.007
"""Error of a stature measured at a wall; people are some millimetres shorter in the evening, too.
Common practice, no source."""

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

FACE_SD = 0.05
"""Adults' faces differ by about so much, relative. The breadth between the outer corners of the
eyes: of young adults in Hong Kong 93.0 mm (standard deviation 5.6) for men, 88.4 mm (3.7) for women
(BioMed Res Int 2013:821428, table 2; looked up); another people's 98.2 (3.5) and 94.4 mm (4.9)
(Maxillofac Plast Reconstr Surg 2019, s40902-019-0191-7, table 9; looked up). That is 4 to 6 % in
one people and 3 % between them; the mesh's size rests on more points, which differ less, and the
stature tells a part of it."""

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


_HEAD_FOLLOWS = 0.45
"""How much of a grown body's size its head shares, relative. Women's eyes are 4 to 5 % less far
apart at their outer corners than men's of the same people (as at FACE_SD), where their bodies are
7.5 % shorter; among women or men alone heads follow by about a quarter only (from memory)."""
_GROWING_HEAD_FOLLOWS = 0.25
"""The same below GROWN_STATURE_M. So at five years, 1.10 m, a face is 0.87 of an adult's. The outer
corners of the eyes are 0.88 as far apart (Farkas et al. 1992, Cleft Palate Craniofac J 29:315), the
pupils 0.86 ("Exophthalmometry and age", cross-sectional, 1986); both abstracts looked up."""


def _head_at(stature_m: float) -> float:
    """Size of a head over that of the adult mean."""
    grown_m = max(stature_m, GROWN_STATURE_M)
    grown = (grown_m / ADULT_STATURE_M) ** _HEAD_FOLLOWS
    return float(grown * (stature_m / grown_m) ** _GROWING_HEAD_FOLLOWS)


def shape_from_stature(stature_m: float, relative_sd: float) -> BodyShape:
    """Usual proportions at a stature known to `relative_sd`."""
    head = _head_at(stature_m)
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
    measured: whether the stature was measured, and not merely stated.
    """

    stature_m: float | None = None
    profile: PersonalProfile | None = field(default=None, repr=False)
    measured: bool = False

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
            if self.measured:
                return shape_from_stature(self.stature_m, MEASURED_STATURE_SD_M / self.stature_m)
            likely_m = self.stature_m - OVERSTATED_M
            return shape_from_stature(likely_m, STATED_STATURE_SD_M / likely_m)
        return shape_from_stature(ADULT_STATURE_M, ADULT_STATURE_SD_M / ADULT_STATURE_M)
