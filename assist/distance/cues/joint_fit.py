"""Distance by fitting a skeleton of the person's own lengths to the picture.

Unknown are the places of seventeen joints in the camera frame. Three kinds of evidence meet:

- each joint is seen at a pixel, to within an error on the body and with Huber's weights;
- the lengths between joints are the person's own;
- the posture is about the one that the detector's metric landmarks show, link by link. The detector
  places pixels to a centimetre, but may misjudge the lean of a trunk by two hands' breadths, and
  then all that hangs on the trunk errs together: so links are uncertain, not joints.

The most probable skeleton is found by Gauss-Newton steps with the Jacobian in closed form, begun at
the rigid fit. Plain rigid placement has to believe the detector's posture; here the lengths and the
pixels correct it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from assist.distance.head import HEAD_LANDMARKS, HEAD_POINTS_M
from assist.distance.observation import Observation
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

NAME = "joint fit"

L = Landmark
JOINTS = np.array(
    [
        *HEAD_LANDMARKS,
        L.LEFT_SHOULDER,
        L.RIGHT_SHOULDER,
        L.LEFT_ELBOW,
        L.RIGHT_ELBOW,
        L.LEFT_WRIST,
        L.RIGHT_WRIST,
        L.LEFT_HIP,
        L.RIGHT_HIP,
        L.LEFT_KNEE,
        L.RIGHT_KNEE,
        L.LEFT_ANKLE,
        L.RIGHT_ANKLE,
    ]
)
_N = len(JOINTS)


@dataclass(frozen=True)
class FitOptions:
    """The standard deviations the fit believes in, metres on the body, and its stopping rule.

    pixel_m: of a landmark's place across the line of sight, times PIXEL_GRADES of the joint
    (floor_px: and at least so many pixels);
    length_m: of a length between joints; neck_m: of the neck, which bends and is carried forwards;
    head_length_m: within the head, a rigid body;
    trunk_upright_m, trunk_folded_m: of the trunk's lean, as LINK_SD_M of the first link, for legs
    in line with the trunk and for legs drawn up or out of the picture;
    head_front, head_back: grade of the head's pixels when the face is seen and when it is guessed;
    along, across: of a link against the detector's posture, along and across the ray, as multiples
    of LINK_SD_M.
    huber: residual, in standard deviations, from which a pixel's pull no longer grows.
    """

    pixel_m: float = 0.007
    floor_px: float = 0.7
    length_m: float = 0.012
    neck_m: float = 0.03
    head_length_m: float = 0.005
    trunk_upright_m: float = 0.07
    trunk_folded_m: float = 0.18
    head_front: float = 1.3
    head_back: float = 1.5
    across: float = 0.6
    along: float = 1.0
    huber: float = 2.0
    most_steps: int = 6
    settled_m: float = 0.002


@dataclass(frozen=True, slots=True)
class JointFit:
    """The skeleton in the camera frame.

    joints_m: (17, 3) places of JOINTS.
    eyes_sd_m, hips_sd_m: formal standard deviations of the two depths.
    misfit: root mean square pixel residual in standard deviations.
    """

    joints_m: FloatArray
    eyes_sd_m: float
    hips_sd_m: float
    misfit: float

    @property
    def eyes_m(self) -> float:
        """Depth of the point midway between the eyes."""
        return float(EYES @ self.joints_m[:, 2])

    @property
    def axis_m(self) -> float:
        """Depth of the body's axis."""
        return float(AXIS @ self.joints_m[:, 2])

    @property
    def hips_m(self) -> float:
        """Depth of the point midway between the hips."""
        return float(HIPS @ self.joints_m[:, 2])


def _mean_of(*joints: Landmark) -> FloatArray:
    """(17,) coefficients of the mean of some joints."""
    row = np.zeros(_N)
    for joint in joints:
        row[np.flatnonzero(joint == JOINTS)[0]] = 1 / len(joints)
    return row


EYES = _mean_of(L.LEFT_EYE, L.RIGHT_EYE)
HIPS = _mean_of(L.LEFT_HIP, L.RIGHT_HIP)
AXIS = _mean_of(L.LEFT_EAR, L.RIGHT_EAR, L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP)
"""The body's axis: ears, shoulders and hips of somebody upright are over the feet, at one depth."""
_BODY_LENGTHS: tuple[tuple[str, FloatArray], ...] = (
    ("shoulders", _mean_of(L.LEFT_SHOULDER) - _mean_of(L.RIGHT_SHOULDER)),
    ("hips", _mean_of(L.LEFT_HIP) - _mean_of(L.RIGHT_HIP)),
    ("side", _mean_of(L.LEFT_SHOULDER) - _mean_of(L.LEFT_HIP)),
    ("side", _mean_of(L.RIGHT_SHOULDER) - _mean_of(L.RIGHT_HIP)),
    ("upper_arm", _mean_of(L.LEFT_ELBOW) - _mean_of(L.LEFT_SHOULDER)),
    ("upper_arm", _mean_of(L.RIGHT_ELBOW) - _mean_of(L.RIGHT_SHOULDER)),
    ("forearm", _mean_of(L.LEFT_WRIST) - _mean_of(L.LEFT_ELBOW)),
    ("forearm", _mean_of(L.RIGHT_WRIST) - _mean_of(L.RIGHT_ELBOW)),
    ("thigh", _mean_of(L.LEFT_KNEE) - _mean_of(L.LEFT_HIP)),
    ("thigh", _mean_of(L.RIGHT_KNEE) - _mean_of(L.RIGHT_HIP)),
    ("shank", _mean_of(L.LEFT_ANKLE) - _mean_of(L.LEFT_KNEE)),
    ("shank", _mean_of(L.RIGHT_ANKLE) - _mean_of(L.RIGHT_KNEE)),
    (
        "neck",
        _mean_of(L.LEFT_EAR, L.RIGHT_EAR) - _mean_of(L.LEFT_SHOULDER, L.RIGHT_SHOULDER),
    ),
)
_HEAD_PAIRS = [(a, b) for a in range(5) for b in range(a)]
LENGTH_NAMES = [name for name, _ in _BODY_LENGTHS] + ["head"] * len(_HEAD_PAIRS)
LENGTH_ROWS = np.stack(
    [row for _, row in _BODY_LENGTHS]
    + [_mean_of(HEAD_LANDMARKS[a]) - _mean_of(HEAD_LANDMARKS[b]) for a, b in _HEAD_PAIRS]
)
"""(lengths, 17): each length is the norm of this row times the joints."""
_HEAD_LENGTHS = np.array(
    [np.linalg.norm(HEAD_POINTS_M[a] - HEAD_POINTS_M[b]) for a, b in _HEAD_PAIRS]
)
_SHOULDERS = _mean_of(L.LEFT_SHOULDER, L.RIGHT_SHOULDER)
_EARS = _mean_of(L.LEFT_EAR, L.RIGHT_EAR)
_LINKS: tuple[tuple[FloatArray, float], ...] = (
    (_SHOULDERS - HIPS, 0.10),
    (_mean_of(L.LEFT_SHOULDER) - _mean_of(L.RIGHT_SHOULDER), 0.06),
    (_mean_of(L.LEFT_HIP) - _mean_of(L.RIGHT_HIP), 0.04),
    (_EARS - _SHOULDERS, 0.05),
    *((_mean_of(joint) - _EARS, 0.05) for joint in HEAD_LANDMARKS),
    (_mean_of(L.LEFT_ELBOW) - _mean_of(L.LEFT_SHOULDER), 0.08),
    (_mean_of(L.RIGHT_ELBOW) - _mean_of(L.RIGHT_SHOULDER), 0.08),
    (_mean_of(L.LEFT_WRIST) - _mean_of(L.LEFT_ELBOW), 0.10),
    (_mean_of(L.RIGHT_WRIST) - _mean_of(L.RIGHT_ELBOW), 0.10),
    (_mean_of(L.LEFT_KNEE) - _mean_of(L.LEFT_HIP), 0.08),
    (_mean_of(L.RIGHT_KNEE) - _mean_of(L.RIGHT_HIP), 0.08),
    (_mean_of(L.LEFT_ANKLE) - _mean_of(L.LEFT_KNEE), 0.10),
    (_mean_of(L.RIGHT_ANKLE) - _mean_of(L.RIGHT_KNEE), 0.10),
)
_LINK_ROWS = np.stack([row for row, _ in _LINKS])
LINK_SD_M = np.array([sd for _, sd in _LINKS])
"""How far the detector misjudges each link along the ray; measured on rendered bodies."""
PIXEL_GRADES = np.array([1.0] * 7 + [1.5] * 4 + [1.5] * 2 + [2.0] * 4)
"""Landmarks of the head and the shoulders are placed best, knees and ankles worst."""


_NEAREST_M = 0.1
_PIN_SD_M = 0.002
_DOUBTED_LABELS = 4.0
"""Weight of the posture while left and right are in doubt, and with them the pixels' labels."""


class JointFitter:
    """Holds the arrays that every picture reuses."""

    def __init__(self, options: FitOptions | None = None) -> None:
        self.options = options or FitOptions()
        size = 3 * _N
        self._normal = np.empty((size, size))
        rows, sd_m = _LINK_ROWS[1:], LINK_SD_M[1:, None]
        along = rows.T @ (rows / (sd_m * self.options.along) ** 2)
        self._across = rows.T @ (rows / (sd_m * self.options.across) ** 2)
        self._along = along - self._across
        self._trunk = np.outer(_LINK_ROWS[0], _LINK_ROWS[0])
        self._grades = PIXEL_GRADES.copy()
        self._prior = np.empty((_N, 3, _N, 3))
        self._jacobian = np.zeros((_N, 2, 3))
        self._lengths = np.empty(len(LENGTH_NAMES))
        count = len(_BODY_LENGTHS)
        sd = np.empty(len(LENGTH_NAMES))
        sd[:count], sd[count:] = self.options.length_m, self.options.head_length_m
        sd[count - 1] = self.options.neck_m
        self._length_weight = 1 / sd
        # The blocks of each joint with itself, as a view: (17, 3, 3).
        row, column = self._normal.strides
        self._own_blocks = np.lib.stride_tricks.as_strided(
            self._normal, (_N, 3, 3), (3 * (row + column), row, column)
        )

    def _set_lengths(self, seen: Observation) -> None:
        count = len(_BODY_LENGTHS)
        for k, name in enumerate(LENGTH_NAMES[:count]):
            self._lengths[k] = seen.shape.segments_m[name]
        self._lengths[count:] = _HEAD_LENGTHS * seen.shape.head

    def fit(
        self, seen: Observation, start_m: FloatArray, pinned_axis_m: float | None = None
    ) -> JointFit:
        """The most probable skeleton, begun from `start_m` (33, 3) landmarks in the camera frame.

        pinned_axis_m: depth of the body's axis (AXIS) where it is known, as at a measured mark.
        Raises numpy.linalg.LinAlgError when the picture fixes no skeleton.
        """
        o = self.options
        self._set_lengths(seen)
        joints = start_m[JOINTS].copy()
        posture = seen.body_m[JOINTS]
        pixels = seen.rays[JOINTS]
        distance = max(float(HIPS @ joints[:, 2]), _NEAREST_M)
        self._grades[: len(HEAD_LANDMARKS)] = o.head_front if seen.face_seen else o.head_back
        sd = np.hypot(o.pixel_m * self._grades / distance, o.floor_px / seen.camera.fx_px)
        base = np.where(seen.usable[JOINTS], seen.pose.visibility[JOINTS] / sd**2, 0.0)
        prior = self._prior_for(seen)
        spread = np.zeros(_N)
        for _ in range(o.most_steps):
            gradient = prior @ (joints - posture).ravel()
            gradient += self._add_lengths(joints, prior)
            spread, pull = self._add_pixels(joints, pixels, base, sd)
            gradient += pull
            if pinned_axis_m is not None:
                gradient += self._add_pin(joints, pinned_axis_m)
            step = np.linalg.solve(self._normal, gradient).reshape(_N, 3)
            joints -= step
            np.maximum(joints[:, 2], _NEAREST_M, out=joints[:, 2])
            if float(np.abs(step[:, 2]).max()) < o.settled_m:
                break
        wanted = np.zeros((3 * _N, 2))
        wanted[2::3, 0], wanted[2::3, 1] = EYES, HIPS
        variance = np.einsum("ik,ik->k", wanted, np.linalg.solve(self._normal, wanted))
        used = base > 0
        misfit = math.sqrt(float(np.mean(spread[used] ** 2))) if used.any() else math.inf
        return JointFit(joints, math.sqrt(variance[0]), math.sqrt(variance[1]), misfit)

    # Each of these adds its part of J^T W J to `_normal` and returns its part of J^T W r.

    def _prior_for(self, seen: Observation) -> FloatArray:
        """Information of the posture: links' rows times the covariance's inverse along the ray."""
        o = self.options
        folded = seen.folded
        trunk_m = o.trunk_upright_m + folded * (o.trunk_folded_m - o.trunk_upright_m)
        across = self._across + self._trunk / (trunk_m * o.across) ** 2
        along = self._along + self._trunk * (
            1 / (trunk_m * o.along) ** 2 - 1 / (trunk_m * o.across) ** 2
        )
        ray = np.outer(seen.ray, seen.ray)
        np.multiply(along[:, None, :, None], ray[None, :, None, :], out=self._prior)
        for axis in range(3):
            self._prior[:, axis, :, axis] += across
        if not seen.steady:
            self._prior *= _DOUBTED_LABELS
        return self._prior.reshape(3 * _N, 3 * _N)

    def _add_lengths(self, joints: FloatArray, prior: FloatArray) -> FloatArray:
        """Residual |d| - length of d = row joints; its derivative by a joint is row d / |d|."""
        between = LENGTH_ROWS @ joints
        length = np.sqrt(np.einsum("ka,ka->k", between, between))
        direction = between * (self._length_weight / np.maximum(length, 1e-6))[:, None]
        rows = (LENGTH_ROWS[:, :, None] * direction[:, None, :]).reshape(-1, 3 * _N)
        np.add(prior, rows.T @ rows, out=self._normal)
        return np.asarray(rows.T @ ((length - self._lengths) * self._length_weight))

    def _add_pixels(
        self, joints: FloatArray, pixels: FloatArray, base: FloatArray, sd: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Residual x / z - u; derivatives 1 / z and -x / z^2. Also its size in sds."""
        depth = joints[:, 2]
        ratio = joints[:, :2] / depth[:, None]
        residual = ratio - pixels
        spread = np.sqrt(np.einsum("ja,ja->j", residual, residual)) / sd
        weight = base * np.minimum(1.0, self.options.huber / np.maximum(spread, 1e-9))
        self._jacobian[:, 0, 0] = self._jacobian[:, 1, 1] = 1 / depth
        self._jacobian[:, :, 2] = -ratio / depth[:, None]
        weighted = self._jacobian.transpose(0, 2, 1) * weight[:, None, None]
        self._own_blocks += weighted @ self._jacobian
        return spread, (weighted @ residual[:, :, None]).ravel()

    def _add_pin(self, joints: FloatArray, axis_m: float) -> FloatArray:
        """The axis's depth, known to two millimetres."""
        pull = AXIS / _PIN_SD_M**2
        self._normal.reshape(_N, 3, _N, 3)[:, 2, :, 2] += np.outer(pull, AXIS)
        gradient = np.zeros((_N, 3))
        gradient[:, 2] = pull * (AXIS @ joints[:, 2] - axis_m)
        return gradient.ravel()
