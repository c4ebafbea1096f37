import numpy as np
import pytest

from assist.pose.gesture import Gesture, GestureWatch, arms_out, hands_up, head_tilted
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


def orders(script, rate_hz=25, by="hand"):
    """Gestures reported over a script of (seconds, pose or None)."""
    watch, reported, time_s = GestureWatch(by), [], 0.0
    for seconds, shown in script:
        for _ in range(round(seconds * rate_hz)):
            gesture = watch.update(time_s, shown)
            if gesture is not None:
                reported.append((round(time_s, 2), gesture))
            time_s += 1 / rate_hz
    return reported


def test_what_counts_as_raised():
    assert hands_up(pose()) is None
    assert hands_up(pose(left=True)) is Gesture.START_OR_PAUSE
    assert hands_up(pose(right=True)) is Gesture.START_OR_PAUSE
    assert hands_up(pose(left=True, right=True)) is Gesture.END


def test_hand_at_the_head_or_a_wave_at_the_shoulder_does_not_count():
    made = pose()
    shoulder_y = made.image_px[Mark.LEFT_SHOULDER, 1]
    made.image_px[Mark.LEFT_ELBOW, 1] = shoulder_y - 10
    made.image_px[Mark.LEFT_WRIST, 1] = made.image_px[Mark.LEFT_EYE, 1] - 2  # at the brow
    assert hands_up(made) is None
    made.image_px[Mark.LEFT_ELBOW, 1] = shoulder_y + 40
    made.image_px[Mark.LEFT_WRIST, 1] = shoulder_y - 20
    assert hands_up(made) is None


def test_a_hidden_hand_is_not_guessed():
    made = pose(left=True)
    made.visibility[Mark.LEFT_WRIST] = 0.3
    assert hands_up(made) is None


def test_upside_down_or_bending_person_gives_no_order():
    made = pose(left=True)
    made.image_px[:, 1] = 720 - made.image_px[:, 1]
    assert hands_up(made) is None


def test_held_for_a_second_and_reported_once():
    up, down = pose(left=True), pose()
    assert orders([(1, down), (4, up), (1, down)]) == [(2.0, Gesture.START_OR_PAUSE)]
    assert orders([(1, down), (0.9, up), (3, down)]) == []


def test_must_be_let_go_before_the_next():
    up, down = pose(right=True), pose()
    said = orders([(2, up), (1, down), (2, up)])
    assert [g for _, g in said] == [Gesture.START_OR_PAUSE] * 2


def test_short_loss_by_the_detector_does_not_break_it():
    up, down = pose(right=True), pose()
    assert len(orders([(0.6, up), (0.12, down), (0.6, up), (1, down)])) == 1


def test_both_hands_end_and_lowering_one_of_them_is_no_order():
    both, one = pose(left=True, right=True), pose(left=True)
    assert [g for _, g in orders([(3, both), (3, one)])] == [Gesture.END]


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


# -- the other ways, for arms that do not reach up --------------------------------------------


def arm_out(pose, side, *, angle_deg=85, hand_up=False, forearm=True):
    """Turn an upper arm out to the side; the forearm hangs, is gone, or puts the hand to the head.

    Angles from hanging straight down."""
    shoulder, elbow, wrist = (11, 13, 15) if side == "left" else (12, 14, 16)
    outwards = np.sign(pose.image_px[shoulder, 0] - pose.image_px[[11, 12], 0].mean())
    a = np.radians(angle_deg)
    at = pose.image_px[shoulder]
    pose.image_px[elbow] = at + 62 * np.array([outwards * np.sin(a), np.cos(a)])
    pose.image_px[wrist] = pose.image_px[elbow] + (0, -110 if hand_up else 55)
    if not forearm:
        pose.visibility[wrist] = 0.1
    return pose


def test_an_upper_arm_held_out_needs_no_forearm():
    assert arms_out(pose()) is None
    for forearm in (True, False):
        one = arm_out(pose(), "right", forearm=forearm)
        assert arms_out(one) is Gesture.START_OR_PAUSE
        assert arms_out(arm_out(one, "left", forearm=forearm)) is Gesture.END


def test_hands_on_the_hips_or_in_the_hair_are_no_order():
    assert arms_out(arm_out(pose(), "left", angle_deg=50)) is None
    assert arms_out(arm_out(pose(), "left", hand_up=True)) is None


def tilted(angle_deg):
    made = pose()
    head = slice(0, 11)
    middle = made.image_px[[7, 8]].mean(axis=0)
    a = np.radians(angle_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    made.image_px[head] = middle + (made.image_px[head] - middle) @ turn.T
    return made


@pytest.mark.parametrize(("angle_deg", "told"), [(0, False), (18, False), (32, True), (-32, True)])
def test_a_head_laid_towards_a_shoulder(angle_deg, told):
    assert head_tilted(tilted(angle_deg)) is (Gesture.START_OR_PAUSE if told else None)


def test_a_turned_back_is_no_tilted_head():
    made = tilted(32)
    made.image_px[:, 0] = 1280 - made.image_px[:, 0]
    assert head_tilted(made) is None


@pytest.mark.parametrize(
    ("by", "shape", "least_s"),
    [("arm", lambda: arm_out(pose(), "left"), 2.0), ("head", lambda: tilted(32), 2.0)],
)
def test_what_also_occurs_in_pictures_must_be_held_longer(by, shape, least_s):
    made, rest = shape(), pose()
    assert orders([(1, rest), (least_s - 0.1, made), (2, rest)], by=by) == []
    assert orders([(1, rest), (4, made), (1, rest)], by=by) == [
        (1 + least_s, Gesture.START_OR_PAUSE)
    ]
