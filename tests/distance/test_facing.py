import numpy as np
import pytest

from assist.pose import Pose
from assist.pose.facing import FacingGuard, exchanged, signed_breadth
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera.from_focal_length_px(1250.0, 1280, 720)
FRONT = standing_pose(CAMERA, 4.0)
BACK = standing_pose(CAMERA, 4.0, turn_deg=180.0)


def test_sign_and_roll():
    assert signed_breadth(FRONT.image_px) > 0 > signed_breadth(BACK.image_px)
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
    assert signed_breadth(FRONT.image_px @ turn) == pytest.approx(signed_breadth(FRONT.image_px))


def test_exchange_twice_is_nothing():
    twice = exchanged(exchanged(FRONT))
    assert twice.image_px == pytest.approx(FRONT.image_px)
    assert twice.world_m == pytest.approx(FRONT.world_m)


def test_flip_is_put_right_until_believed():
    guard = FacingGuard()
    slip = exchanged(FRONT)
    for i in range(5):
        guard.guard(FRONT, i / 30)
    results = [guard.guard(slip, (5 + i) / 30) for i in range(40)]
    assert results[0][1] and results[20][1]
    assert results[0][0].image_px == pytest.approx(FRONT.image_px)
    assert not results[-1][1]


def test_a_turn_is_followed():
    guard = FacingGuard()
    for i, turn in enumerate(np.linspace(0, 180, 25)):
        pose = standing_pose(CAMERA, 4.0, turn_deg=turn)
        assert not guard.guard(pose, i / 25)[1]


def test_forgets():
    guard = FacingGuard()
    guard.guard(FRONT, 0.0)
    guard.forget()
    assert not guard.guard(BACK, 0.04)[1]


def test_pose_of_one_spot_does_not_break_it():
    heap = Pose(np.zeros((33, 2)), np.zeros((33, 3)), np.ones(33), 1280, 720)
    assert FacingGuard().guard(heap, 0.0)[1] is False
