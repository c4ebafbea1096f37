"""One pose seen through one camera, prepared once for all the cues that read it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assist.distance.head import HEAD_LANDMARKS, HEAD_POINTS_M, head_axes
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.setup.body import ADULT_STATURE_M, BodyShape
from optics.camera import PinholeCamera
from optics.checks import FloatArray
from optics.rays import rotation_to_ray

LEAST_VISIBILITY = 0.5
"""Below this the detector itself does not believe that a landmark is in view."""

L = Landmark
_LIMBS = (
    (L.LEFT_ELBOW, L.LEFT_SHOULDER, "upper_arm"),
    (L.RIGHT_ELBOW, L.RIGHT_SHOULDER, "upper_arm"),
    (L.LEFT_KNEE, L.LEFT_HIP, "thigh"),
    (L.RIGHT_KNEE, L.RIGHT_HIP, "thigh"),
    (L.LEFT_WRIST, L.LEFT_ELBOW, "forearm"),
    (L.RIGHT_WRIST, L.RIGHT_ELBOW, "forearm"),
    (L.LEFT_ANKLE, L.LEFT_KNEE, "shank"),
    (L.RIGHT_ANKLE, L.RIGHT_KNEE, "shank"),
)
# The limbs in two rows of four, each from the trunk outwards: what ends here begins the next.
_INNER, _OUTER = (
    tuple(np.array([limb[k] for limb in part]) for k in (0, 1)) for part in (_LIMBS[:4], _LIMBS[4:])
)
_LIMB_NAMES = [name for _, _, name in _LIMBS]
_ENDS = np.array(
    [
        (L.LEFT_HEEL, L.LEFT_ANKLE),
        (L.LEFT_FOOT_INDEX, L.LEFT_ANKLE),
        (L.RIGHT_HEEL, L.RIGHT_ANKLE),
        (L.RIGHT_FOOT_INDEX, L.RIGHT_ANKLE),
        (L.LEFT_PINKY, L.LEFT_WRIST),
        (L.LEFT_INDEX, L.LEFT_WRIST),
        (L.LEFT_THUMB, L.LEFT_WRIST),
        (L.RIGHT_PINKY, L.RIGHT_WRIST),
        (L.RIGHT_INDEX, L.RIGHT_WRIST),
        (L.RIGHT_THUMB, L.RIGHT_WRIST),
    ]
).T
"""Points of feet and hands, and what they hang on."""


@dataclass(frozen=True, slots=True)
class Observation:
    """What the cues read.

    rays: (33, 2) undistorted x / z, y / z of the landmarks.
    usable: (33,) in the picture and believed to be in view.
    ray: (3,) unit vector from the camera to the person.
    world_m: (33, 3) the detector's metric landmarks turned into the camera frame.
    body_m: (33, 3) the same posture with the person's own lengths; middle of the hips at zero.
    folded: 0 with both thighs in line with the trunk, as standing; 1 with both square to it or
        beyond. Knees that are not in view count as drawn up; without hips it is 1.5.
    face_seen: whether the nose is nearer than the ears; else eyes and nose are a guess.
    steady: False while the detector contradicts what a body can do (see `pose.facing`).
    """

    pose: Pose
    camera: PinholeCamera
    shape: BodyShape
    rays: FloatArray
    usable: NDArray[np.bool_]
    ray: FloatArray
    world_m: FloatArray
    body_m: FloatArray
    folded: float
    face_seen: bool
    steady: bool = True

    @property
    def hips_seen(self) -> bool:
        """Whether a hip is in view; without one nothing tells how the trunk leans."""
        return bool(self.usable[L.LEFT_HIP] or self.usable[L.RIGHT_HIP])


def _unit(vector: FloatArray) -> FloatArray:
    return np.asarray(vector / max(math.sqrt(vector @ vector), 1e-9))


def rebuild(world_m: FloatArray, shape: BodyShape) -> FloatArray:
    """The posture of `world_m` (33, 3) in a body of the given lengths; middle of the hips at zero.

    Directions are the detector's, lengths the person's: pelvis, trunk, shoulders, then the limbs
    outwards; the head is a rigid body at the end of the neck. Hands and feet keep their shape.
    """
    w, lengths = world_m, shape.segments_m
    body = np.zeros_like(w)
    half_hips = _unit(w[L.LEFT_HIP] - w[L.RIGHT_HIP]) * (lengths["hips"] / 2)
    body[L.LEFT_HIP], body[L.RIGHT_HIP] = half_hips, -half_hips
    up = _unit(w[L.LEFT_SHOULDER] + w[L.RIGHT_SHOULDER] - w[L.LEFT_HIP] - w[L.RIGHT_HIP])
    half_shoulders = _unit(w[L.LEFT_SHOULDER] - w[L.RIGHT_SHOULDER]) * (lengths["shoulders"] / 2)
    slope = half_shoulders - half_hips  # the trunk's midline is a little shorter than its sides
    trunk = math.sqrt(max(lengths["side"] ** 2 - float(slope @ slope), 0.01))
    top = up * trunk
    body[L.LEFT_SHOULDER], body[L.RIGHT_SHOULDER] = top + half_shoulders, top - half_shoulders
    limb_m = np.array([lengths[name] for name in _LIMB_NAMES])
    for (end, start), length_m in zip((_INNER, _OUTER), (limb_m[:4], limb_m[4:]), strict=True):
        along = w[end] - w[start]
        size = np.sqrt((along * along).sum(axis=1))
        body[end] = body[start] + along * (length_m / np.maximum(size, 1e-9))[:, None]
    end, start = _ENDS
    body[end] = body[start] + (w[end] - w[start]) * (shape.stature_m / ADULT_STATURE_M)
    neck = _unit(w[L.LEFT_EAR] + w[L.RIGHT_EAR] - w[L.LEFT_SHOULDER] - w[L.RIGHT_SHOULDER])
    ears = top + neck * lengths["neck"]
    # The head's landmarks that the rigid model lacks keep the detector's offset.
    body[:11] = ears + w[:11] - (w[L.LEFT_EAR] + w[L.RIGHT_EAR]) / 2
    body[HEAD_LANDMARKS] = ears + (shape.head * HEAD_POINTS_M) @ head_axes(w)
    return body


_KNEES_UNSEEN = 0.7
_HIPS_UNSEEN = 1.5


def _folded(world_m: FloatArray, usable: NDArray[np.bool_]) -> float:
    """See Observation.folded. The detector judges a trunk's lean well by straight legs below it."""
    w = world_m
    down = w[L.LEFT_HIP] + w[L.RIGHT_HIP] - w[L.LEFT_SHOULDER] - w[L.RIGHT_SHOULDER]
    folded = 0.0
    if not (usable[L.LEFT_HIP] or usable[L.RIGHT_HIP]):
        return _HIPS_UNSEEN
    for hip, knee in ((L.LEFT_HIP, L.LEFT_KNEE), (L.RIGHT_HIP, L.RIGHT_KNEE)):
        thigh = w[knee] - w[hip]
        cosine = float(thigh @ down) / max(math.sqrt((thigh @ thigh) * (down @ down)), 1e-9)
        bend = 1 - max(cosine, 0.0)
        folded += (bend if usable[knee] else max(bend, _KNEES_UNSEEN)) / 2
    return folded


def observe(
    pose: Pose, camera: PinholeCamera, shape: BodyShape, *, steady: bool = True
) -> Observation:
    """Prepare one pose."""
    rays = camera.normalised(pose.image_px)
    usable = pose.inside & (pose.visibility >= LEAST_VISIBILITY)
    middle = (rays[L.LEFT_HIP] + rays[L.RIGHT_HIP]) / 2
    ray = _unit(np.array([middle[0], middle[1], 1.0]))
    # The detector sees a cut-out round the person as if the camera looked straight at it, so its
    # metric frame is aligned with the ray to the person rather than with the optical axis.
    world_m = pose.world_m @ rotation_to_ray(ray).T
    forwards = world_m[L.NOSE] - (world_m[L.LEFT_EAR] + world_m[L.RIGHT_EAR]) / 2
    return Observation(
        pose,
        camera,
        shape,
        rays,
        usable,
        ray,
        world_m,
        rebuild(world_m, shape),
        _folded(world_m, usable),
        float(forwards @ ray) < 0,
        steady,
    )
