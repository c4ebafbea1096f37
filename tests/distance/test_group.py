"""Who is who of several people."""

import numpy as np
import pytest

from assist.distance.group_tracker import GroupTracker
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera.from_focal_length_px(1250.0, 1280, 720)
RATE_HZ = 25


def at(across_m, hips_z_m=4.0):
    return standing_pose(CAMERA, hips_z_m, across_m=across_m)


def run(tracker, scenes, from_s=0.0):
    """`scenes`: lists of places across; what was followed in each."""
    return [
        tracker.follow([at(x) if np.isscalar(x) else at(*x) for x in xs], from_s + k / RATE_HZ)
        for k, xs in enumerate(scenes)
    ]


def indices(followed):
    return [one.index for one in followed]


def sure(followed):
    return all(one.sure for one in followed)


def test_numbered_from_the_right_of_the_picture_once_apart():
    found = run(GroupTracker(2), [[-0.6, 0.6]] * 20)
    assert not sure(found[0])
    assert sure(found[-1])
    assert indices(found[-1]) == [1, 0]  # left on the mirrored screen is right in the picture
    assert [any(f[k].new and f[k].sure for f in found) for k in (0, 1)] == [True, True]


def test_keeps_to_each_whatever_the_order_of_the_poses():
    tracker = GroupTracker(3)
    run(tracker, [[-1.0, 0.0, 1.0]] * 20)
    rng = np.random.default_rng(0)
    for k in range(40):
        places = np.array([1.0, 0.0, -1.0]) + 0.01 * k
        order = rng.permutation(3)
        found = tracker.follow([at(places[i]) for i in order], 0.8 + k / RATE_HZ)
        assert [order[f.index] for f in found] == [0, 1, 2]
        assert sure(found)


def test_two_who_cross_are_not_sure_until_apart_and_then_numbered_anew():
    tracker = GroupTracker(2)
    x = np.linspace(-0.8, 0.8, 60)
    run(tracker, [[x[0], -x[0]]] * 20)
    crossing = run(tracker, [[a, -a] for a in x], 0.8)
    unsure = [k for k, f in enumerate(crossing) if not sure(f)]
    assert unsure
    assert abs(x[unsure[0]]) > 0.03  # before they are quite one before the other
    after = run(tracker, [[0.8, -0.8]] * 30, 0.8 + 60 / RATE_HZ)
    assert sure(after[-1])
    assert indices(after[-1]) == [0, 1]


def test_two_who_come_shoulder_to_shoulder_stay_who_they_are():
    tracker = GroupTracker(2)
    run(tracker, [[-0.8, 0.8]] * 20)
    nearer = np.linspace(0.8, 0.2, 50)
    assert all(sure(f) for f in run(tracker, [[-a, a] for a in nearer], 0.8))
    assert all(sure(f) for f in run(tracker, [[-0.2, 0.2]] * 30, 0.8 + 50 / RATE_HZ))


def test_one_who_leaves_and_comes_back_is_the_one_missing():
    tracker = GroupTracker(2)
    run(tracker, [[-0.6, 0.6]] * 20)
    alone = run(tracker, [[-0.6]] * 50, 0.8)
    assert all(f[0].index is None and f[1].index == 0 and sure(f) for f in alone)
    back = run(tracker, [[-0.6, 1.2]] * 20, 2.8)
    assert back[0][0].index is None  # a slip of the detector would be gone at once
    assert [f[0].new for f in back].count(True) == 1
    assert indices(back[-1]) == [1, 0]
    assert sure(back[-1])


def test_two_missing_may_come_back_as_either():
    tracker = GroupTracker(3)
    run(tracker, [[-1.0, 0.0, 1.0]] * 20)
    alone = run(tracker, [[0.0]] * 20, 0.8)
    assert not sure(alone[-1])


def test_who_vanishes_beside_another_leaves_both_unsure():
    tracker = GroupTracker(2)
    x = np.linspace(0.6, 0.05, 40)
    run(tracker, [[-0.6, 0.6]] * 20)
    run(tracker, [[-a, a] for a in x], 0.8)
    found = run(tracker, [[0.0]] * 10, 0.8 + 40 / RATE_HZ)
    assert not sure(found[-1])


def test_a_body_found_twice_is_one_person():
    found = run(GroupTracker(2), [[0.0, 0.005]] * 20)
    assert all(sum(one.index is not None for one in f) == 1 for f in found)
    assert not sure(found[-1])


def test_more_than_so_many_are_not_numbered():
    assert not sure(run(GroupTracker(2), [[-1.0, 0.0, 1.0]] * 30)[-1])


@pytest.mark.parametrize("jolt_px", [0.0, 60.0])
def test_a_pose_that_slides_faster_than_a_body_leaves_doubt(jolt_px):
    tracker = GroupTracker(2)
    run(tracker, [[-0.9, 0.9]] * 20)
    found = []
    for k in range(20):
        left, right = at(-0.9), at(0.9)
        right.image_px[:, 0] -= jolt_px * min(max(k - 8, 0), 4)
        found.append(tracker.follow([left, right], 0.8 + k / RATE_HZ))
    assert all(sure(f) for f in found) == (jolt_px == 0.0)
