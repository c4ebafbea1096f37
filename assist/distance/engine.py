"""From one pose to where the body is, with an honest uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from assist.distance import BodyDistance, CueAbsent, CueReading, Size
from assist.distance.body_error import BodyError
from assist.distance.childlike import HeadAgainstBody
from assist.distance.cues import joint_fit, rigid_fit
from assist.distance.cues.face import FaceCue
from assist.distance.cues.head import Head
from assist.distance.cues.joint_fit import JOINTS, JointFit, JointFitter
from assist.distance.fusion import fuse
from assist.distance.observation import Observation, observe
from assist.distance.reference import ReferenceView
from assist.distance.size_belief import SizeBelief
from assist.pose import Pose
from assist.pose.facing import FacingGuard
from assist.pose.landmarks import Landmark
from assist.setup.body import SOME_CHILD, BodyShape, Person
from optics.camera import PinholeCamera
from optics.checks import FloatArray

_USUAL_PERIOD_S = 1 / 30
_PICTURE_SHARE = 0.6
"""How much of what differs from a reference view is another in the next picture; the rest stays as
long as posture and facing do."""


@dataclass(frozen=True)
class ErrorModel:
    """What averaging over pictures does not remove, beyond the fit's own formal error.

    hips, eyes: relative errors of the two depths from the pose network's misjudged posture.
    eyes_m: error of the eyes' depth against the hips' that does not grow with distance.
    folded: added, relative, for legs drawn up or out of view: the trunk's lean is then a guess.
    folded_far, hipless_far: by how much, in logarithms, a body with its legs drawn up or out of
        view, or without its hips, is read too far: a trunk that leans is taken for one less leant.
    back: added, relative, when the face is turned away: the eyes are then a guess.
    repeat: relative error of the eyes against another view of the same person standing alike.
    slip: relative error while the detector contradicts itself about front and back.
    Set on the footage that `tests/benchmarks` names as its tuning part, and on nothing else.
    """

    hips: float = 0.022
    eyes: float = 0.015
    eyes_m: float = 0.015
    folded: float = 0.10
    folded_far: float = 0.07
    hipless_far: float = 0.17
    back: float = 0.06
    repeat: float = 0.012
    slip: float = 0.08


class DistanceEngine:
    """Measures one known person through one known camera, picture by picture.

    focal_sd: relative error of the camera's focal length; all distances follow it one to one.
    Remembers which way the person faces; use one engine per person, or `forget` in between.
    """

    def __init__(
        self,
        camera: PinholeCamera,
        person: Person,
        *,
        errors: ErrorModel | None = None,
        focal_sd: float = 0.0,
    ) -> None:
        self._camera = camera
        self._focal_sd = focal_sd
        self._person = person
        self._errors = errors or ErrorModel()
        self._fitter = JointFitter()
        self._reference: ReferenceView | None = None
        self._begin()
        self._time_s = 0.0

    def refer(self, reference: ReferenceView | None) -> None:
        """Measure against a view of this person from now on; None: by the assumed sizes again.

        The scale is then that of the reference, whatever is learned of the sizes afterwards.
        """
        self._reference = reference

    def forget(self) -> None:
        """Begin anew with another person or after a loss."""
        self._begin()

    def _begin(self) -> None:
        self._facing = FacingGuard()
        self._assume(self._person.shape)
        self._proportions = HeadAgainstBody()

    def _assume(self, shape: BodyShape) -> None:
        """Take the body to be of this shape from now on; what was learned of another is void."""
        self._shape = shape
        self._face, self._head = FaceCue(), Head()
        self._sizes = SizeBelief(shape)
        self._body_error = BodyError()

    @property
    def may_be_small(self) -> bool:
        """Whether nothing is known of the person and no face has shown them to be an adult yet.

        Only above an upright body does it: with the knees out of view, or drawn up, never.
        """
        return self._person.unknown and not self._proportions.told

    @property
    def seems_small(self) -> bool:
        """Whether nothing is known of the person and their head is too large for an adult's.

        A child of some stature is assumed from then on, which is little to go by.
        """
        return self._person.unknown and self._proportions.childlike

    def measure(self, pose: Pose, time_s: float | None = None) -> BodyDistance | CueAbsent:
        """Depth of eyes and hips, or why there is none.

        time_s: of the picture; without it pictures are taken to come at 30 a second.
        """
        self._time_s = self._time_s + _USUAL_PERIOD_S if time_s is None else time_s
        if not np.isfinite(pose.image_px).all() or not np.isfinite(pose.world_m).all():
            return CueAbsent(rigid_fit.NAME, "the detector gave landmarks that are no numbers")
        pose, slipped = self._facing.guard(pose, self._time_s)
        seen = observe(pose, self._camera, self._shape, steady=not slipped)
        placed = rigid_fit.fit(seen)
        if isinstance(placed, CueAbsent):
            return placed
        try:
            fitted = self._fitter.fit(seen, placed.landmarks_m)
        except np.linalg.LinAlgError:
            return CueAbsent(joint_fit.NAME, "the picture fixes no skeleton")
        landmarks_m = placed.landmarks_m + (
            fitted.joints_m.mean(axis=0) - placed.landmarks_m[JOINTS].mean(axis=0)
        )
        landmarks_m[JOINTS] = fitted.joints_m
        return self._report(seen, landmarks_m, fitted)

    def _report(
        self,
        seen: Observation,
        landmarks_m: FloatArray,
        fitted: JointFit,
    ) -> BodyDistance | CueAbsent:
        z = landmarks_m[:, 2]
        hips_m = float(z[Landmark.LEFT_HIP] + z[Landmark.RIGHT_HIP]) / 2
        eyes_m = float(z[Landmark.LEFT_EYE] + z[Landmark.RIGHT_EYE]) / 2
        if min(hips_m, eyes_m) <= 0:
            return CueAbsent(rigid_fit.NAME, "the fit puts the person behind the camera")
        e = self._errors
        formal_m, name = fitted.eyes_sd_m, joint_fit.NAME
        lasting = math.hypot(e.folded * seen.folded, 0.0 if seen.steady else e.slip)
        if not seen.face_seen:
            lasting = math.hypot(lasting, e.back)
        far = e.folded_far * seen.folded if seen.hips_seen else e.hipless_far
        likely_m = eyes_m * math.exp(-far)
        own_m = math.hypot(math.hypot(e.eyes, lasting) * likely_m, math.hypot(formal_m, e.eyes_m))
        repeat_m = math.hypot(e.repeat, lasting) * likely_m
        main = CueReading(name, likely_m, own_m, Size.BODY, repeat_m)
        face = self._face.read(seen)
        further = [face]
        if isinstance(face, CueReading):
            if seen.steady and self._person.unknown and not self._proportions.childlike:
                self._proportions.tell(self._time_s, main.eyes_m, face.eyes_m, seen.folded)
            self._compare(face, main, seen)
        elif (better := self._carried_on(main, seen)) is not None:
            main = better
        else:
            further.append(self._head.read(seen))
            self._compare(further[-1], main, seen)
            if isinstance(further[-1], CueAbsent) and not seen.hips_seen:
                return CueAbsent(name, "a back or profile without hips: show face or hips")
        sources = [self._by_known_size(r) for r in (main, *further) if isinstance(r, CueReading)]
        fused = fuse(sources, self._covariance)
        if isinstance(face, CueReading) and seen.steady:
            body_m = sources[0].eyes_m
            self._body_error.tell(self._time_s, body_m, fused.eyes_m, fused.own_sd_m / fused.eyes_m)
        if self.seems_small and self._shape is not SOME_CHILD:
            self._assume(SOME_CHILD)  # in the next picture; this one was measured as an adult's
        # The head moves the eyes; how far the body follows is between a mistaken size (all of it)
        # and a mistaken lean (none of it), the lean being the likelier with legs drawn up.
        upright = max(1.0 - seen.folded, 0.0) / 2
        moved_m = fused.eyes_m - eyes_m
        landmarks_m = landmarks_m * (1 + moved_m / eyes_m * _shares(upright))[:, None]
        landmarks_m[~seen.usable] = np.nan
        hips_m += moved_m * upright
        scale_sd = self._sizes.sd(Size.BODY)
        hips_sd_m = math.hypot(math.hypot(e.hips, lasting / 2), scale_sd) * hips_m
        if self._reference is None:
            common_m = math.hypot(fused.common_sd_m, self._focal_sd * fused.eyes_m)
            picture_m = None
        else:
            common_m = self._reference.common_sd * fused.eyes_m
            picture_m = _PICTURE_SHARE * fused.own_sd_m
        return BodyDistance(
            fused.eyes_m,
            math.hypot(fused.own_sd_m, common_m),
            hips_m,
            math.hypot(math.hypot(hips_sd_m, formal_m), self._focal_sd * hips_m),
            landmarks_m,
            (main, *further),
            common_m,
            picture_m,
        )

    @property
    def _covariance(self) -> FloatArray:
        """(3, 3) of the sizes; with a reference, what they share is that of the reference."""
        if self._reference is None:
            return self._sizes.covariance
        seen = [size in self._reference.read_m for size in Size]
        return self._sizes.covariance * np.outer(~np.array(seen), ~np.array(seen))

    def _compare(self, own: CueReading | CueAbsent, body: CueReading, seen: Observation) -> None:
        """Learn how the sizes of head or face and body stand to each other, as far as that tells.

        Where a child is assumed, the body's size is as little known as the head's.
        """
        if isinstance(own, CueReading) and seen.steady and not self.seems_small:
            self._sizes.compare(own.size, own.eyes_m, body.eyes_m, seen.folded, self._time_s)

    def _by_known_size(self, reading: CueReading) -> CueReading:
        """The reading, put right by what is known of its size by now."""
        if self._reference is None:
            return reading.times(self._sizes.factor(reading.size))
        factor = self._reference.factor(reading.size)
        if factor is None:
            return reading.times(self._sizes.factor(reading.size))
        return replace(reading.times(factor), own_sd_m=reading.repeat_sd_m * factor)

    def _carried_on(self, body: CueReading, seen: Observation) -> CueReading | None:
        """The body's reading put right by what the face told a moment ago; None: it did not."""
        if not seen.steady:
            return None  # a posture put right has another error than the one that was compared
        by_itself_m = body.own_sd_m if self._reference is None else body.repeat_sd_m
        known = self._body_error.at(self._time_s, by_itself_m / body.eyes_m)
        if known is None:
            return None
        factor, own_sd = known
        eyes_m = body.eyes_m * factor
        own_m = own_sd * eyes_m
        return replace(body, eyes_m=eyes_m, own_sd_m=own_m, repeated_sd_m=own_m, carried=True)


def _shares(upright: float) -> FloatArray:
    """(33,) how much of a correction of the eyes each landmark follows."""
    share = np.full(33, upright)
    share[: Landmark.LEFT_SHOULDER] = 1.0
    share[Landmark.LEFT_SHOULDER : Landmark.LEFT_HIP] = (1 + upright) / 2
    return share
