"""The engine on exact synthetic bodies, and on the ways in which a picture can be bad."""

import math
from dataclasses import replace

import numpy as np
import pytest

from assist.distance import BodyDistance, CueAbsent
from assist.distance.engine import DistanceEngine, ErrorModel
from assist.distance.observation import observe
from assist.pose import Pose
from assist.pose.facing import MIRROR
from assist.pose.landmarks import Landmark
from assist.setup.body import ADULT_STATURE_M, Person
from optics.camera import PinholeCamera
from tests.assist.synthetic import body_m, real_body_m, standing_pose

L = Landmark
CAMERA = PinholeCamera.from_focal_length_px(1250.0, 1280, 720)
PERSON = Person(ADULT_STATURE_M, measured=True)
EXACT = ErrorModel(folded_far=0.0, hipless_far=0.0)
"""A network that judges the lean of a trunk as well with legs drawn up or hidden."""


def seated():
    """The standing posture with thighs towards the camera."""
    points = body_m()
    for hip, knee, ankle, heel, toe in ((23, 25, 27, 29, 31), (24, 26, 28, 30, 32)):
        points[knee] = points[hip] + (0.0, 0.05, -0.40)
        for low, offset in ((ankle, 0.40), (heel, 0.44), (toe, 0.45)):
            points[low] = points[knee] + (0.0, offset, 0.0)
    return points


def eyes_m(body, hips_z_m):
    return hips_z_m + body[[L.LEFT_EYE, L.RIGHT_EYE], 2].mean()


@pytest.mark.parametrize("posture", [body_m, seated])
@pytest.mark.parametrize("turn_deg", [0.0, 40.0, 90.0, 180.0])
@pytest.mark.parametrize("hips_z_m", [1.5, 3.0, 7.0])
def test_exact_landmarks_give_the_exact_eyes(posture, turn_deg, hips_z_m):
    pose = standing_pose(CAMERA, hips_z_m, turn_deg=turn_deg, detector_m=posture())
    found = DistanceEngine(CAMERA, PERSON, errors=EXACT).measure(pose, 0.0)
    assert isinstance(found, BodyDistance)
    truth = eyes_m(real_body_m(turn_deg=turn_deg, detector_m=posture()), hips_z_m)
    assert found.eyes_m == pytest.approx(truth, rel=2e-3)
    assert found.hips_m == pytest.approx(hips_z_m, rel=2e-3)


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_portrait_held_and_upside_down_feeds(quarter_turns):
    """The picture as it comes from a camera on its side, put upright by the feed's rotation."""
    upright = CAMERA.rotated(quarter_turns)
    pose = standing_pose(upright, 4.0, across_m=0.1, hips_y_m=0.1)
    found = DistanceEngine(upright, PERSON).measure(pose, 0.0)
    assert found.hips_m == pytest.approx(4.0, rel=2e-3)


@pytest.mark.parametrize("degrees", [90, 180, 270])
def test_a_feed_that_nobody_put_upright(degrees):
    """Landmarks of somebody lying or hanging in the picture: right, or none, never wrong."""
    pose = standing_pose(CAMERA, 4.0, turn_deg=20.0, hips_y_m=0.0)
    a = np.radians(degrees)
    turn = np.round([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    middle = (CAMERA.width_px / 2, CAMERA.height_px / 2)
    image = (pose.image_px - middle) @ turn.T + 640
    world = pose.world_m.copy()
    world[:, :2] = world[:, :2] @ turn.T
    lying = Pose(image, world, pose.visibility, 1280, 1280)
    wide = PinholeCamera.from_focal_length_px(1250.0, 1280, 1280)
    found = DistanceEngine(wide, PERSON).measure(lying, 0.0)
    straight = DistanceEngine(CAMERA, PERSON).measure(pose, 0.0)
    assert found.eyes_m == pytest.approx(straight.eyes_m, rel=2e-3)


@pytest.mark.parametrize("gone", [[14, 16, 18, 20, 22], [11, 13, 15, 17, 19, 21]])
def test_one_arm_lost_to_the_picture_with_or_without_its_shoulder(gone):
    pose = standing_pose(CAMERA, 3.0, turn_deg=25.0)
    whole = DistanceEngine(CAMERA, PERSON).measure(pose, 0.0)
    part = DistanceEngine(CAMERA, PERSON).measure(hidden(pose, gone), 0.0)
    assert part.eyes_m == pytest.approx(whole.eyes_m, rel=1e-2)
    assert part.eyes_sd_m >= whole.eyes_sd_m - 1e-3


def test_mirrored_picture_gives_the_same_distance():
    pose = standing_pose(CAMERA, 4.0, across_m=0.3, turn_deg=30.0)
    image = pose.image_px[MIRROR] * (-1, 1) + (CAMERA.width_px, 0)
    world = pose.world_m[MIRROR] * (-1, 1, 1)
    mirrored = replace(pose, image_px=image, world_m=world, visibility=pose.visibility[MIRROR])
    found = DistanceEngine(CAMERA.mirrored(), PERSON).measure(mirrored, 0.0)
    straight = DistanceEngine(CAMERA, PERSON).measure(pose, 0.0)
    assert found.eyes_m == pytest.approx(straight.eyes_m, rel=1e-4)


def test_cropped_feed_gives_the_same_distance():
    part = CAMERA.cropped(320, 60, 640, 640)
    pose = standing_pose(CAMERA, 4.0)
    moved = Pose(pose.image_px - (320, 60), pose.world_m, pose.visibility, 640, 640)
    found = DistanceEngine(part, PERSON).measure(moved, 0.0)
    assert found.hips_m == pytest.approx(4.0, rel=2e-3)


def hidden(pose, landmarks):
    visibility = pose.visibility.copy()
    visibility[landmarks] = 0.1
    image = pose.image_px.copy()
    image[landmarks] += (90.0, -70.0)  # what the detector guesses of the hidden is not to count
    return replace(pose, image_px=image, visibility=visibility)


LEGS = list(range(25, 33))
LEFT_ARM = [13, 15, 17, 19, 21]


@pytest.mark.parametrize("gone", [LEGS, LEFT_ARM, LEGS + LEFT_ARM])
def test_hidden_parts_do_not_count_but_widen(gone):
    pose = standing_pose(CAMERA, 3.0)
    whole = DistanceEngine(CAMERA, PERSON, errors=EXACT).measure(pose, 0.0)
    part = DistanceEngine(CAMERA, PERSON, errors=EXACT).measure(hidden(pose, gone), 0.0)
    assert part.eyes_m == pytest.approx(whole.eyes_m, rel=5e-3)
    assert part.eyes_sd_m >= whole.eyes_sd_m - 1e-3
    assert np.isnan(part.landmarks_m[gone]).all()


def test_legs_hidden_are_less_certain():
    pose = standing_pose(CAMERA, 3.0)
    whole = DistanceEngine(CAMERA, PERSON).measure(pose, 0.0)
    part = DistanceEngine(CAMERA, PERSON).measure(hidden(pose, LEGS), 0.0)
    assert part.eyes_sd_m > 1.1 * whole.eyes_sd_m


def test_legs_drawn_up_or_hidden_are_told_nearer_than_the_network_draws_them():
    """By the share that was measured; upright by nothing."""
    errors = ErrorModel()
    for pose, least, most in (
        (standing_pose(CAMERA, 3.0, detector_m=seated()), 0.8, 1.0),
        (hidden(standing_pose(CAMERA, 3.0), LEGS), 0.7, 0.7),
        (standing_pose(CAMERA, 3.0), 0.0, 0.01),
    ):
        folded = observe(pose, CAMERA, PERSON.shape).folded
        assert least <= folded <= most
        drawn = DistanceEngine(CAMERA, PERSON, errors=EXACT).measure(pose, 0.0)
        told = DistanceEngine(CAMERA, PERSON).measure(pose, 0.0)
        expected = drawn.readings[0].eyes_m * math.exp(-errors.folded_far * folded)
        assert told.readings[0].eyes_m == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("stature_m", [1.42, 1.56, 1.69, 1.85, 2.01])
def test_the_interval_for_a_stranger_holds_for_each_adult(stature_m):
    """Not nine times in ten over people drawn by lot, and never for the tall: also after a minute.

    The body alone, without a face; its size is all that is wrong.
    """
    engine = DistanceEngine(CAMERA, Person())
    pose = standing_pose(CAMERA, 4.0, stature_m=stature_m)
    for k in range(240):
        found = engine.measure(pose, k / 4)
    truth = eyes_m(real_body_m(stature_m=stature_m), 4.0)
    assert abs(found.eyes_m - truth) < 1.645 * found.eyes_sd_m


def test_a_stated_stature_is_taken_for_a_little_too_much_and_a_measured_one_is_not():
    pose = standing_pose(CAMERA, 4.0, stature_m=1.75)
    stated = DistanceEngine(CAMERA, Person(1.75)).measure(pose, 0.0)
    measured = DistanceEngine(CAMERA, Person(1.75, measured=True)).measure(pose, 0.0)
    assert stated.eyes_m / measured.eyes_m == pytest.approx(1.74 / 1.75, abs=0.001)
    assert stated.common_sd_m > 1.15 * measured.common_sd_m


def test_another_persons_profile_is_wrong_by_their_sizes():
    """No cue can tell a tall body far away from a short one near; it must not fall apart."""
    pose = standing_pose(CAMERA, 4.0, stature_m=1.85)
    found = DistanceEngine(CAMERA, Person(1.60)).measure(pose, 0.0)
    assert found.hips_m == pytest.approx(4.0 * 1.60 / 1.85, rel=0.03)


def test_stranger_is_covered_when_nothing_is_known():
    for stature_m in (1.55, 1.85):
        pose = standing_pose(CAMERA, 4.0, stature_m=stature_m)
        found = DistanceEngine(CAMERA, Person()).measure(pose, 0.0)
        assert abs(found.hips_m - 4.0) < 2 * found.hips_sd_m


def test_front_taken_for_back_is_put_right_and_widened():
    engine = DistanceEngine(CAMERA, PERSON)
    pose = standing_pose(CAMERA, 4.0)
    before = [engine.measure(pose, i / 30) for i in range(10)][-1]
    world = pose.world_m[MIRROR]
    neck = world[[11, 12], 2].mean()
    world[:11, 2] = 2 * neck - world[:11, 2]
    slipped = replace(pose, image_px=pose.image_px[MIRROR], world_m=world)
    after = engine.measure(slipped, 10 / 30)
    assert after.eyes_m == pytest.approx(before.eyes_m, rel=0.01)
    assert after.eyes_sd_m > 1.5 * before.eyes_sd_m


def test_numbers_that_are_none_are_no_measurement():
    pose = standing_pose(CAMERA, 4.0)
    broken = replace(pose, image_px=np.full((33, 2), np.nan))
    found = DistanceEngine(CAMERA, PERSON).measure(broken, 0.0)
    assert isinstance(found, CueAbsent)


def test_all_landmarks_in_one_spot():
    heap = Pose(np.full((33, 2), 400.0), np.zeros((33, 3)), np.ones(33), 1280, 720)
    assert isinstance(DistanceEngine(CAMERA, PERSON).measure(heap, 0.0), CueAbsent)


def test_pixel_noise_stays_within_what_is_said():
    random = np.random.default_rng(3)
    pose = standing_pose(CAMERA, 4.0)
    truth = eyes_m(real_body_m(), 4.0)
    errors = []
    for _ in range(40):
        noisy = replace(pose, image_px=pose.image_px + random.normal(0, 2.5, (33, 2)))
        found = DistanceEngine(CAMERA, PERSON).measure(noisy, 0.0)
        errors.append((found.eyes_m - truth) / found.eyes_sd_m)
    assert np.abs(errors).max() < 2.0


def test_unsure_focal_length_makes_every_distance_unsure():
    pose = standing_pose(CAMERA, 4.0)
    known = DistanceEngine(CAMERA, Person(1.75)).measure(pose, 0.0)
    unsure = DistanceEngine(CAMERA, Person(1.75), focal_sd=0.06).measure(pose, 0.0)
    assert unsure.eyes_m == known.eyes_m
    assert unsure.eyes_sd_m == pytest.approx(math.hypot(known.eyes_sd_m, 0.06 * known.eyes_m))
    assert unsure.hips_sd_m == pytest.approx(math.hypot(known.hips_sd_m, 0.06 * known.hips_m))
