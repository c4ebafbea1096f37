"""Learning a body by having it stand at measured marks.

At a mark the depth is known, so the picture shows the size of the body instead of its distance.
Errors of the pose drift with posture, so a mark wants several seconds and varied postures; the
median over them is what is learned.

With the feed's geometry known, this gives the size of the body. With it unknown, pictures of a body
at known depths show only the product of focal length and size: see `separate`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assist.body import ADULT_STATURE_M, SEGMENTS, BodyShape, Person, shape_from_profile
from assist.distance import CueAbsent
from assist.distance.cues import rigid_fit
from assist.distance.cues.joint_fit import LENGTH_NAMES, LENGTH_ROWS, FitOptions, JointFitter
from assist.distance.observation import Observation, observe
from assist.errors import UserError
from assist.pose import Pose
from assist.pose.facing import FacingGuard
from assist.profile import MarkRecord, PersonalProfile, now
from optics.camera import PinholeCamera
from optics.checks import FloatArray

LEAST_PICTURES = 15
_ROUNDS = 3
_BELIEF_IN_SEGMENTS = 0.5
"""How far the learned proportions replace the usual ones: half-way, as one mark shows them from few
sides only."""
_POSTURE_SD = 0.025
"""Relative error of the size that one posture gives; several that differ average it."""
_LEAST_SCALE_SD = 0.008


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
class Learned:
    """A profile and how well it was learned.

    used, left_out: pictures.   varied: spread of the postures, 0 for standing still.
    """

    profile: PersonalProfile
    used: int
    left_out: int
    varied: float


def _observations(
    pictures: Sequence[MarkPicture], shape: BodyShape
) -> list[tuple[Observation, float]]:
    """Pictures that show enough of the body, with the known depth."""
    guard = FacingGuard()
    seen = []
    for picture in pictures:
        pose, slipped = guard.guard(picture.pose, picture.time_s)
        observation = observe(pose, picture.camera, shape, steady=not slipped)
        if not slipped and not isinstance(rigid_fit.fit(observation), CueAbsent):
            seen.append((observation, picture.axis_m))
    return seen


def _reshaped(seen: Observation, shape: BodyShape) -> Observation:
    return observe(seen.pose, seen.camera, shape, steady=seen.steady)


def _fit_pinned(fitter: JointFitter, seen: Observation, axis_m: float) -> FloatArray | None:
    placed = rigid_fit.fit(seen)
    if isinstance(placed, CueAbsent):
        return None
    return fitter.fit(seen, placed.landmarks_m, pinned_axis_m=axis_m).joints_m


def _ratio(fitter: JointFitter, seen: Observation, axis_m: float) -> float:
    """Known depth over measured depth."""
    placed = rigid_fit.fit(seen)
    if isinstance(placed, CueAbsent):
        return math.nan
    return axis_m / fitter.fit(seen, placed.landmarks_m).axis_m


def learn(
    pictures: Sequence[MarkPicture],
    *,
    stature_m: float | None = None,
    name: str = "",
) -> Learned:
    """The profile of the person in these pictures.

    Raises UserError when too few pictures show enough of the body.
    """
    usual = Person(stature_m).shape
    seen = _observations(pictures, usual)
    if len(seen) < LEAST_PICTURES:
        raise UserError(
            f"only {len(seen)} of {len(pictures)} pictures show enough of the body; at least "
            f"{LEAST_PICTURES} are needed: stand wholly in view for a few seconds longer"
        )
    segments = _learn_segments(seen, usual)
    shape = BodyShape(segments, usual.head, usual.scale_sd, usual.segment_sd_m)
    fitter = JointFitter()
    for _ in range(2):
        ratios = np.array([_ratio(fitter, _reshaped(o, shape), z) for o, z in seen])
        k = float(np.nanmedian(ratios))
        shape = BodyShape(
            {s: length * k for s, length in shape.segments_m.items()},
            shape.head,
            shape.scale_sd,
            shape.segment_sd_m,
        )
    spread = float(np.nanstd(ratios))
    varied = _variety([o for o, _ in seen])
    # One posture's error is there in all its pictures; only different postures average it.
    postures = 1 + 4 * min(varied, 1.0)
    mark_sd = math.hypot(_POSTURE_SD, spread) / math.sqrt(postures)
    shape, scale_sd = _weighed(shape, mark_sd, usual)
    profile = PersonalProfile(
        name=name,
        learned_at=now(),
        method="mark",
        scale=shape.stature_m / ADULT_STATURE_M,
        scale_sd=max(_LEAST_SCALE_SD, scale_sd),
        head=shape.head,
        segments_m=shape.segments_m,
        segments_sd_m=dict.fromkeys(SEGMENTS, 0.015),
        marks=_records(pictures),
    )
    return Learned(profile, len(seen), len(pictures) - len(seen), varied)


def _weighed(seen: BodyShape, seen_sd: float, usual: BodyShape) -> tuple[BodyShape, float]:
    """The size between what the marks show and what was expected, by their variances."""
    belief = usual.scale_sd**2 / (usual.scale_sd**2 + seen_sd**2)
    k = (usual.stature_m / seen.stature_m) ** (1 - belief)
    lengths = {s: length * k for s, length in seen.segments_m.items()}
    sd = seen_sd * math.sqrt(belief)
    return BodyShape(lengths, seen.head, sd, seen.segment_sd_m), sd


def _learn_segments(seen: list[tuple[Observation, float]], usual: BodyShape) -> dict[str, float]:
    """Lengths with proportions between the usual and the seen; the size is not final."""
    fitter = JointFitter(FitOptions(length_m=0.04, head_length_m=0.01))
    names = np.array(LENGTH_NAMES)
    shape = usual
    for _ in range(_ROUNDS):
        lengths = []
        for observation, axis_m in seen:
            joints = _fit_pinned(fitter, _reshaped(observation, shape), axis_m)
            if joints is not None:
                lengths.append(np.linalg.norm(LENGTH_ROWS @ joints, axis=1))
        middle = np.median(lengths, axis=0)
        shape = BodyShape(
            {s: float(middle[names == s].mean()) for s in SEGMENTS},
            usual.head,
            usual.scale_sd,
            usual.segment_sd_m,
        )
    size = shape.stature_m / usual.stature_m
    return {
        s: usual.segments_m[s]
        * size
        * (shape.segments_m[s] / (usual.segments_m[s] * size)) ** _BELIEF_IN_SEGMENTS
        for s in SEGMENTS
    }


def _variety(seen: list[Observation]) -> float:
    """How much the postures differ: 0 standing still, about 1 turned, bent and stepping.

    Root mean square departure of the joints from their mean posture, over 15 cm.
    """
    postures = np.stack([o.body_m[11:29] for o in seen])
    return float(np.sqrt(postures.var(axis=0).sum(axis=1).mean())) / 0.15


def _records(pictures: Sequence[MarkPicture]) -> tuple[MarkRecord, ...]:
    depths = np.array([p.axis_m for p in pictures])
    times = np.array([p.time_s for p in pictures])
    return (
        MarkRecord(
            depth_m=float(np.median(depths)),
            pictures=len(pictures),
            seconds=float(np.ptp(times)),
        ),
    )


__all__ = ["LEAST_PICTURES", "Learned", "MarkPicture", "learn", "shape_from_profile"]
