"""One watcher tells how the person holds and moves; each part of it has tests of its own."""

import numpy as np
import pytest

from assist.pose.person_state import PersonState, PersonWatcher
from assist.setup.body import Posture
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera.from_focal_length_px(600.0, 1280, 720)
RATE_HZ = 10


def watched(watcher, seconds, pose, from_s=0.0):
    """The state after so many seconds of that pose."""
    state = PersonState()
    for k in range(round(seconds * RATE_HZ)):
        state = watcher.update(from_s + k / RATE_HZ, pose)
    return state


def test_somebody_who_stands_facing_the_camera():
    state = watched(PersonWatcher(), 3.0, standing_pose(CAMERA, 3.5))
    assert state.posture is Posture.STANDING
    assert state.faces_camera
    assert state.facing_known
    assert state.still
    assert not state.turning
    assert state.absent == frozenset()
    assert (state.rotate_deg, state.rotation_noticed) == (None, False)


def test_a_back_is_seen_as_one():
    state = watched(PersonWatcher(), 3.0, standing_pose(CAMERA, 3.5, turn_deg=180.0))
    assert not state.faces_camera
    assert state.facing_known


def test_without_news_nothing_is_known_but_what_was_stated():
    watcher = PersonWatcher()
    watched(watcher, 3.0, standing_pose(CAMERA, 3.5))
    state = watcher.unseen(3.0)
    assert state.posture is Posture.NOT_SURE
    assert not (state.still or state.facing_known or state.turning)
    stated = PersonWatcher(Posture.SEATED, ["left-hand"])
    assert stated.unseen(0.0).posture is Posture.SEATED
    assert stated.update(0.0, None).absent == {"left-hand"}


def test_another_person_is_learned_anew():
    watcher = PersonWatcher()
    watched(watcher, 3.0, standing_pose(CAMERA, 3.5))
    watcher.forget()
    assert watched(watcher, 0.1, standing_pose(CAMERA, 3.5), 3.0).posture is Posture.NOT_SURE


@pytest.mark.parametrize(("rotated_deg", "advised"), [(0, 270), (90, 0)])
def test_a_picture_on_its_side_tells_nothing_of_front_and_back(rotated_deg, advised):
    pose = standing_pose(CAMERA, 3.5, turn_deg=180.0)
    middle = np.array([640.0, 360.0])
    turned = (pose.image_px - middle) @ np.array([[0.0, 1.0], [-1.0, 0.0]]) + middle
    pose.image_px[:] = turned
    state = watched(PersonWatcher(rotated_deg=rotated_deg), 5.0, pose)
    assert (state.rotate_deg, state.rotation_noticed) == (advised, True)
    assert state.faces_camera
