import numpy as np
import pytest

from assist.gesture import Gesture, GestureWatch, raised
from assist.pose.landmarks import Landmark as Mark
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera.from_focal_length_px(900.0, 1280, 720)


def pose(*, left=False, right=False):
    made = standing_pose(CAMERA, 4.0, hips_y_m=0.2)
    for up, elbow, wrist in (
        (left, Mark.LEFT_ELBOW, Mark.LEFT_WRIST),
        (right, Mark.RIGHT_ELBOW, Mark.RIGHT_WRIST),
    ):
        if up:
            shoulder_y = made.image_px[Mark.LEFT_SHOULDER, 1]
            made.image_px[elbow, 1] = shoulder_y - 40
            made.image_px[wrist, 1] = shoulder_y - 110
    return made


def orders(script, rate_hz=25):
    """Gestures reported over a script of (seconds, pose or None)."""
    watch, reported, time_s = GestureWatch(), [], 0.0
    for seconds, shown in script:
        for _ in range(round(seconds * rate_hz)):
            gesture = watch.update(time_s, shown)
            if gesture is not None:
                reported.append((round(time_s, 2), gesture))
            time_s += 1 / rate_hz
    return reported


def test_what_counts_as_raised():
    assert raised(pose()) is None
    assert raised(pose(left=True)) is Gesture.ONE_HAND_UP
    assert raised(pose(right=True)) is Gesture.ONE_HAND_UP
    assert raised(pose(left=True, right=True)) is Gesture.BOTH_HANDS_UP


def test_hand_at_the_head_or_a_wave_at_the_shoulder_does_not_count():
    made = pose()
    shoulder_y = made.image_px[Mark.LEFT_SHOULDER, 1]
    made.image_px[Mark.LEFT_ELBOW, 1] = shoulder_y - 10
    made.image_px[Mark.LEFT_WRIST, 1] = made.image_px[Mark.LEFT_EYE, 1] - 2  # at the brow
    assert raised(made) is None
    made.image_px[Mark.LEFT_ELBOW, 1] = shoulder_y + 40
    made.image_px[Mark.LEFT_WRIST, 1] = shoulder_y - 20
    assert raised(made) is None


def test_a_hidden_hand_is_not_guessed():
    made = pose(left=True)
    made.visibility[Mark.LEFT_WRIST] = 0.3
    assert raised(made) is None


def test_upside_down_or_bending_person_gives_no_order():
    made = pose(left=True)
    made.image_px[:, 1] = 720 - made.image_px[:, 1]
    assert raised(made) is None


def test_held_for_a_second_and_reported_once():
    up, down = pose(left=True), pose()
    assert orders([(1, down), (4, up), (1, down)]) == [(2.0, Gesture.ONE_HAND_UP)]
    assert orders([(1, down), (0.9, up), (3, down)]) == []


def test_must_be_let_go_before_the_next():
    up, down = pose(right=True), pose()
    said = orders([(2, up), (1, down), (2, up)])
    assert [g for _, g in said] == [Gesture.ONE_HAND_UP] * 2


def test_short_loss_by_the_detector_does_not_break_it():
    up, down = pose(right=True), pose()
    assert len(orders([(0.6, up), (0.12, down), (0.6, up), (1, down)])) == 1


def test_both_hands_end_and_lowering_one_of_them_is_no_order():
    both, one = pose(left=True, right=True), pose(left=True)
    assert [g for _, g in orders([(3, both), (3, one)])] == [Gesture.BOTH_HANDS_UP]


def test_progress_for_the_screen():
    watch = GestureWatch()
    up = pose(left=True)
    for index in range(13):
        watch.update(index / 25, up)
    assert watch.progress(12 / 25) == pytest.approx(0.48)


def test_no_false_start_from_ten_minutes_of_restless_hands():
    """Hands that wander about head and shoulders, drawn at random with momentum, never above the
    crown for a whole second: ten minutes at 25 pictures a second."""
    rng = np.random.default_rng(11)
    watch = GestureWatch()
    height = 0.0
    for index in range(10 * 60 * 25):
        height += 0.08 * (0.25 - height) + 0.12 * rng.standard_normal()
        made = pose()
        shoulder_y = made.image_px[Mark.LEFT_SHOULDER, 1]
        made.image_px[Mark.LEFT_WRIST, 1] = shoulder_y - 70 * height
        made.image_px[Mark.LEFT_ELBOW, 1] = shoulder_y - 30 * height
        assert watch.update(index / 25, made) is None
