"""Exact poses for tests: a body of known size at a known place, seen by a known camera."""

import numpy as np

from assist.distance.observation import rebuild
from assist.pose import Pose
from assist.pose.landmarks import COUNT, Landmark
from assist.setup.body import ADULT_STATURE_M, Person
from optics.rays import rotation_to_ray

L = Landmark

# A standing adult of the detector's own size, metres, hips at zero, facing the camera: x right,
# y down, z away from the camera. The person's left is on the right of the picture.
_BODY = {
    L.NOSE: (0.0, -0.66, -0.12), L.LEFT_EYE_INNER: (0.015, -0.70, -0.10),
    L.LEFT_EYE: (0.03, -0.70, -0.10), L.LEFT_EYE_OUTER: (0.045, -0.70, -0.09),
    L.LEFT_EAR: (0.075, -0.68, 0.0), L.MOUTH_LEFT: (0.025, -0.62, -0.10),
    L.LEFT_SHOULDER: (0.17, -0.50, 0.0), L.LEFT_ELBOW: (0.22, -0.22, 0.02),
    L.LEFT_WRIST: (0.24, 0.02, -0.02), L.LEFT_PINKY: (0.24, 0.08, -0.02),
    L.LEFT_INDEX: (0.23, 0.09, -0.03), L.LEFT_THUMB: (0.22, 0.06, -0.04),
    L.LEFT_HIP: (0.11, 0.0, 0.0), L.LEFT_KNEE: (0.11, 0.42, 0.0),
    L.LEFT_ANKLE: (0.11, 0.82, 0.03), L.LEFT_HEEL: (0.11, 0.86, 0.06),
    L.LEFT_FOOT_INDEX: (0.12, 0.87, -0.10),
}  # fmt: skip
_OTHER_SIDE = {
    L.LEFT_EYE_INNER: L.RIGHT_EYE_INNER, L.LEFT_EYE: L.RIGHT_EYE,
    L.LEFT_EYE_OUTER: L.RIGHT_EYE_OUTER, L.LEFT_EAR: L.RIGHT_EAR, L.MOUTH_LEFT: L.MOUTH_RIGHT,
    L.LEFT_SHOULDER: L.RIGHT_SHOULDER, L.LEFT_ELBOW: L.RIGHT_ELBOW,
    L.LEFT_WRIST: L.RIGHT_WRIST, L.LEFT_PINKY: L.RIGHT_PINKY, L.LEFT_INDEX: L.RIGHT_INDEX,
    L.LEFT_THUMB: L.RIGHT_THUMB, L.LEFT_HIP: L.RIGHT_HIP, L.LEFT_KNEE: L.RIGHT_KNEE,
    L.LEFT_ANKLE: L.RIGHT_ANKLE, L.LEFT_HEEL: L.RIGHT_HEEL,
    L.LEFT_FOOT_INDEX: L.RIGHT_FOOT_INDEX,
}  # fmt: skip


def body_m():
    """(33, 3) the standing body, hips at zero."""
    points = np.zeros((COUNT, 3))
    for mark, place in _BODY.items():
        points[mark] = place
        if mark in _OTHER_SIDE:
            points[_OTHER_SIDE[mark]] = (-place[0], place[1], place[2])
    return points


def turned(points, degrees):
    """The body turned about its upright axis, to its own left for positive angles."""
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
    return points @ turn.T


def real_body_m(stature_m=ADULT_STATURE_M, turn_deg=0.0, detector_m=None, shape=None):
    """(33, 3) a body of usual proportions and that stature in the standing posture."""
    posture = turned(body_m() if detector_m is None else detector_m, turn_deg)
    return rebuild(posture, shape or Person(stature_m, measured=True).shape)


def standing_pose(camera, hips_z_m, *, stature_m=ADULT_STATURE_M, across_m=0.0, turn_deg=0.0,
                  hips_y_m=0.25, visibility=1.0, detector_m=None, shape=None):  # fmt: skip
    """The pose an exact detector would report of a body of that stature at that place.

    Its metric landmarks are of the detector's own size and aligned with the ray to the hips.
    detector_m: another posture (33, 3) than standing.   shape: other lengths than usual.
    """
    real = real_body_m(stature_m, turn_deg, detector_m, shape)
    image = camera.project(real + np.array([across_m, hips_y_m, hips_z_m]))
    middle = camera.normalised((image[L.LEFT_HIP] + image[L.RIGHT_HIP]) / 2)
    towards = np.array([*middle, 1.0])
    turn = rotation_to_ray(towards / np.linalg.norm(towards))
    posture = turned(body_m() if detector_m is None else detector_m, turn_deg)
    size_px = camera.width_px, camera.height_px
    return Pose(image, posture @ turn, np.full(COUNT, visibility), *size_px)


_STANDING_M = real_body_m()
EYES_BEFORE_HIPS_M = -float(_STANDING_M[[L.LEFT_EYE, L.RIGHT_EYE], 2].mean())
"""How far the eyes of the standing body are in front of its hips."""
