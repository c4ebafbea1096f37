import numpy as np
import pytest

from assist.distance import BodyDistance, CueAbsent
from assist.distance.engine import DistanceEngine
from assist.setup.body import Person
from optics.camera import PinholeCamera
from tests.assist.synthetic import EYES_BEFORE_HIPS_M, standing_pose

CAMERA = PinholeCamera.from_focal_length_px(1250.0, 1280, 720)


@pytest.mark.parametrize("hips_z_m", [2.5, 4.0, 7.5])
@pytest.mark.parametrize("turn_deg", [0.0, 45.0, 180.0])
@pytest.mark.parametrize("across_m", [-0.6, 0.0, 0.5])
def test_exact_landmarks_give_the_exact_place(hips_z_m, turn_deg, across_m):
    pose = standing_pose(CAMERA, hips_z_m, turn_deg=turn_deg, across_m=across_m)
    found = DistanceEngine(CAMERA, Person(1.69, measured=True)).measure(pose)
    assert isinstance(found, BodyDistance)
    assert found.hips_m == pytest.approx(hips_z_m, rel=1e-3)
    eyes = EYES_BEFORE_HIPS_M * np.cos(np.radians(turn_deg)) - 0.0
    assert found.eyes_m == pytest.approx(hips_z_m - eyes, abs=0.005)


@pytest.mark.parametrize("stature_m", [1.45, 1.69, 2.0])
def test_distance_scales_with_stature(stature_m):
    pose = standing_pose(CAMERA, 4.0, stature_m=stature_m)
    found = DistanceEngine(CAMERA, Person(stature_m, measured=True)).measure(pose)
    assert isinstance(found, BodyDistance)
    assert found.hips_m == pytest.approx(4.0, rel=1e-3)


def test_unknown_stature_is_less_certain():
    pose = standing_pose(CAMERA, 4.0)
    known = DistanceEngine(CAMERA, Person(1.69, measured=True)).measure(pose)
    unknown = DistanceEngine(CAMERA, Person(None, measured=True)).measure(pose)
    assert unknown.hips_sd_m > 1.5 * known.hips_sd_m
    assert unknown.eyes_sd_m > 1.3 * known.eyes_sd_m  # a face in view tells something


def test_one_wild_joint_does_not_carry_the_rest_away():
    pose = standing_pose(CAMERA, 4.0)
    pose.image_px[25] += (60.0, -40.0)  # a knee, as when the detector takes a chair leg for it
    found = DistanceEngine(CAMERA, Person(1.69, measured=True)).measure(pose)
    assert found.hips_m == pytest.approx(4.0, rel=0.03)


def test_nothing_in_view_says_why():
    pose = standing_pose(CAMERA, 4.0, visibility=0.1)
    found = DistanceEngine(CAMERA, Person(1.69, measured=True)).measure(pose)
    assert isinstance(found, CueAbsent)
    assert "joints" in found.why


def test_person_outside_the_picture_is_not_measured():
    pose = standing_pose(CAMERA, 4.0, across_m=3.5)
    assert isinstance(DistanceEngine(CAMERA, Person(1.69, measured=True)).measure(pose), CueAbsent)
