"""Learning a body, and if need be the feed, by standing at measured marks.

At a mark the depth is known, so the picture shows the size of the body instead of its distance.
Errors of the pose drift with posture, so a mark wants several seconds and varied postures (facing,
half-turned, stepping in place, seated if used so); the median over them is what is learned.
`assist.calibrate.separation` tells size and focal length apart as far as that can be done.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assist.base.errors import UserError
from assist.base.validation import validated
from assist.base.words import _
from assist.calibrate.separation import MarkSummary, Separation, refuse_contradictions, separate
from assist.calibrate.stayed_at_mark import refuse_walking
from assist.distance import CueAbsent
from assist.distance.cues import rigid_fit
from assist.distance.cues.face import FaceCue
from assist.distance.cues.head import Head
from assist.distance.cues.joint_fit import (
    AXIS,
    LENGTH_NAMES,
    LENGTH_ROWS,
    FitOptions,
    JointFit,
    JointFitter,
)
from assist.distance.observation import Observation, observe
from assist.pose import Pose
from assist.pose.facing import FacingGuard
from assist.setup.body import ADULT_STATURE_M, SEGMENTS, BodyShape, Person
from assist.setup.personal_profile import MarkRecord, PersonalProfile, now
from optics.camera import PinholeCamera

LEAST_PICTURES = 10
_ROUNDS = 3
_MOST_PICTURES = 60
"""Pictures of one mark that are fitted: evenly taken, for neighbours tell the same."""
_BELIEF_IN_SEGMENTS = 0.5
"""How far the learned proportions replace the usual ones: half-way, as one mark shows them from few
sides only."""
_POSTURE_SD = 0.025
"""Relative error of the size that one posture gives; several that differ average it."""
KNOWN_FOCAL_SD = 0.005


@dataclass(frozen=True, slots=True)
class MarkPicture:
    """One picture of the person at a known place.

    axis_m: axial depth, from the camera's lens, of the body's axis: the mean of ears, shoulders and
        hips, which are over the mark when somebody stands upright.
    """

    camera: PinholeCamera
    pose: Pose
    time_s: float
    axis_m: float


@dataclass(frozen=True, slots=True)
class Mark:
    """All pictures taken at one mark.

    across_m: how far the mark lies to the right of the first one, where measured.
    depth_sd: relative standard deviation of the depth, from what is not known of the camera's tilt.
    roll_rad: how far the camera is rolled clockwise, seen from behind.
    stated: the mark as the person calls it; by its depth where it has no name.
    """

    pictures: Sequence[MarkPicture]
    across_m: float | None = None
    depth_sd: float = 0.0
    roll_rad: float = 0.0
    stated: str = ""


@dataclass(frozen=True, slots=True)
class Learned:
    """A profile and how well it was learned.

    separation: what was learned of the focal length and of the size.
    used: pictures, evenly taken of those that are `fit` for it.
    left_out: why the others are not, in words, and how many each.
    varied: spread of the postures: 0 standing still, 1 well varied.
    """

    profile: PersonalProfile
    separation: Separation
    used: int
    fit: int
    left_out: Mapping[str, int]
    varied: float


@dataclass(frozen=True, slots=True)
class _Seen:
    observation: Observation
    axis_m: float
    mark: int


def learn(
    marks: Sequence[Mark],
    *,
    stature_m: float | None = None,
    focal_prior_sd: float | None = KNOWN_FOCAL_SD,
    name: str = "",
) -> Learned:
    """The profile of the person at these marks.

    focal_prior_sd: relative uncertainty of the cameras' focal length, None when it is a guess.
    Raises UserError when too few pictures show enough of the body, when the person did not stay at
    a mark, and when what the marks show contradicts what was stated, or each other.
    """
    usual = Person(stature_m).shape
    total = sum(len(mark.pictures) for mark in marks)
    left_out: Counter[str] = Counter()
    seen = [s for k, mark in enumerate(marks) for s in _observations(mark, k, usual, left_out)]
    if len(seen) < LEAST_PICTURES:
        raise UserError(
            _(
                "only {n} of {total} pictures show enough of the body; at least {least} "
                "are needed: stand wholly in view for a few seconds longer",
                n=len(seen),
                total=total,
                least=LEAST_PICTURES,
            )
        )
    proportions = _learn_proportions(seen, usual)
    summaries, varied = _summaries(seen, marks, proportions, focal_known=focal_prior_sd is not None)
    refuse_contradictions(
        summaries,
        focal_prior_sd=focal_prior_sd,
        size_prior_sd=usual.scale_sd,
        size_stated=stature_m is not None,
    )
    found = separate(summaries, focal_prior_sd=focal_prior_sd, size_prior_sd=usual.scale_sd)
    segments_m = {s: length * found.size for s, length in proportions.segments_m.items()}
    shape = replace(usual, segments_m=segments_m)
    head, head_sd = _relative_size(Head(), shape.head_sd, seen, shape, found.focal)
    face, face_sd = _relative_size(FaceCue(), shape.face_sd, seen, shape, found.focal)
    # With this feed the product of size and focal length counts; with another, the size alone.
    scale_sd = found.size_sd if found.separated else max(found.product_sd, 0.008)
    profile = validated(
        PersonalProfile,
        {
            "name": name,
            "learned_at": now(),
            "method": "mark",
            "scale": shape.stature_m / ADULT_STATURE_M,
            "scale_sd": scale_sd,
            "head": usual.head * head,
            "head_sd": head_sd,
            "face": None if face_sd is None else usual.face * face,
            "face_sd": face_sd,
            "segments_m": segments_m,
            "segments_sd_m": dict.fromkeys(SEGMENTS, 0.015),
            "marks": tuple(_record(mark) for mark in marks),
        },
        _("what was learned is no profile"),
        mend=_("check the marks and the height"),
    )
    fit = total - left_out.total()
    return Learned(profile, found, len(seen), fit, left_out, varied)


def _observations(mark: Mark, number: int, shape: BodyShape, left_out: Counter[str]) -> list[_Seen]:
    """Pictures that show enough of the body and no slip, evenly thinned; counts the others."""
    guard = FacingGuard()
    kept = []
    for picture in mark.pictures:
        pose, slipped = guard.guard(picture.pose, picture.time_s)
        if slipped:
            left_out[_("front and back were mistaken for each other")] += 1
            continue
        observation = observe(pose, picture.camera, shape)
        placed = rigid_fit.fit(observation)
        if isinstance(placed, CueAbsent):
            why = _("you were too small") if placed.too_small else _("too little of you was seen")
            left_out[why] += 1
        else:
            kept.append(_Seen(observation, picture.axis_m, number))
    step = max(1, math.ceil(len(kept) / _MOST_PICTURES))
    return kept[::step]


def _fit(fitter: JointFitter, seen: _Seen, shape: BodyShape, *, pinned: bool) -> JointFit | None:
    """The skeleton with these lengths; `pinned`: at the known depth."""
    observation = observe(seen.observation.pose, seen.observation.camera, shape)
    placed = rigid_fit.fit(observation)
    if isinstance(placed, CueAbsent):
        return None
    return fitter.fit(observation, placed.landmarks_m, seen.axis_m if pinned else None)


def _learn_proportions(seen: Sequence[_Seen], usual: BodyShape) -> BodyShape:
    """Lengths of the usual size with proportions between the usual and the seen."""
    fitter = JointFitter(FitOptions(length_m=0.04, head_length_m=0.01))
    names = np.array(LENGTH_NAMES)
    shape = usual
    for _round in range(_ROUNDS):
        fits = [_fit(fitter, s, shape, pinned=True) for s in seen]
        lengths = [np.linalg.norm(LENGTH_ROWS @ f.joints_m, axis=1) for f in fits if f is not None]
        middle = np.median(lengths, axis=0)
        shape = replace(usual, segments_m={s: float(middle[names == s].mean()) for s in SEGMENTS})
    size = shape.stature_m / usual.stature_m
    return replace(
        usual,
        segments_m={
            s: length * (shape.segments_m[s] / (length * size)) ** _BELIEF_IN_SEGMENTS
            for s, length in usual.segments_m.items()
        },
    )


def _summaries(
    seen: Sequence[_Seen], marks: Sequence[Mark], shape: BodyShape, *, focal_known: bool
) -> tuple[list[MarkSummary], float]:
    """What each mark shows with the assumed camera and size, and how varied the postures were.

    UserError where the person did not stay at the mark.
    """
    fitter = JointFitter()
    found, varieties = [], []
    for number, mark in enumerate(marks):
        here = [s for s in seen if s.mark == number]
        pairs = [(s, f) for s in here if (f := _fit(fitter, s, shape, pinned=False)) is not None]
        if not pairs:
            continue
        ratios = np.array([s.axis_m / f.axis_m for s, f in pairs])
        ratio = float(np.median(ratios))
        depth = float(np.median([s.axis_m for s in here]))
        stated = mark.stated or f"{depth:.2f} m"
        # With a guessed focal length only the mark itself says how far the person was.
        scale = 1.0 if focal_known else ratio
        refuse_walking([f.axis_m * scale for _, f in pairs], stated)
        right = np.array([math.cos(mark.roll_rad), -math.sin(mark.roll_rad), 0.0])
        rays = [float(AXIS @ (f.joints_m @ right)) / f.axis_m for _, f in pairs]
        varied = _variety(here)
        varieties.append(varied)
        # One posture's error is there in all its pictures; only different postures average it.
        postures = 1 + 4 * min(varied, 1.0)
        sd = math.hypot(_POSTURE_SD, float(ratios.std()) / ratio) / math.sqrt(postures)
        sd = math.hypot(sd, mark.depth_sd)
        found.append(MarkSummary(ratio, sd, depth, mark.across_m, float(np.median(rays)), stated))
    return found, max(varieties)


def _relative_size(
    cue: Head | FaceCue, size_sd: float, seen: Sequence[_Seen], shape: BodyShape, focal: float
) -> tuple[float, float | None]:
    """Size of head or face over the assumed one, by the pictures that show it; None: unknown.

    size_sd: relative, of the assumed size.

    The eyes' depth at a mark is that of the body's axis and what the skeleton adds.
    """
    fitter = JointFitter()
    ratios = []
    for one in seen:
        reading = cue.read(one.observation)
        fitted = _fit(fitter, one, shape, pinned=False)
        if isinstance(reading, CueAbsent) or fitted is None or one.observation.folded > 0.35:
            continue
        eyes_m = one.axis_m + (fitted.eyes_m - fitted.axis_m) * one.axis_m / fitted.axis_m
        ratios.append(eyes_m / (reading.eyes_m * focal))
    if len(ratios) < LEAST_PICTURES / 2:
        return 1.0, None
    # What a turn of the head adds differs from picture to picture; where the eyes are over the
    # mark, and how the network draws this one head, does not.
    lasting = 0.02 if isinstance(cue, Head) else 0.01
    middle = float(np.median(ratios))
    sd = math.hypot(lasting, float(np.std(ratios)) / middle / math.sqrt(5))
    return float(np.clip(middle, 0.6, 1.6)), min(sd, size_sd)


def _variety(seen: Sequence[_Seen]) -> float:
    """How much the postures differ: root mean square departure of the joints, over 15 cm."""
    postures = np.stack([s.observation.body_m[11:29] for s in seen])
    return float(np.sqrt(postures.var(axis=0).sum(axis=1).mean())) / 0.15


def _record(mark: Mark) -> MarkRecord:
    times = [p.time_s for p in mark.pictures]
    return MarkRecord(
        depth_m=float(np.median([p.axis_m for p in mark.pictures])),
        pictures=len(mark.pictures),
        seconds=float(np.ptp(times)),
    )
