import numpy as np
import pytest

from assist.distance.following import PersonFollower
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera.from_focal_length_px(1250.0, 1280, 720)


def at(across_m, hips_z_m=4.0):
    return standing_pose(CAMERA, hips_z_m, across_m=across_m)


def run(follower, scenes):
    """`scenes`: lists of places across; returns what was followed."""
    return [follower.follow([at(x) for x in xs], i / 25) for i, xs in enumerate(scenes)]


def test_keeps_to_the_first_when_a_second_comes_in():
    scenes = [[0.0]] * 20 + [[1.2, 0.0]] * 20 + [[0.0, 1.2]] * 20
    found = run(PersonFollower(), scenes)
    assert [f.index for f in found] == [0] * 20 + [1] * 20 + [0] * 20
    assert all(f.sure for f in found)


def test_two_crossing_are_followed_through_but_not_sure_after():
    x = np.linspace(-1.2, 1.2, 60)
    found = run(PersonFollower(), [[x[0]]] * 10 + [[a, -a] for a in x])
    assert all(f.sure for f in found[:15])
    assert not found[-1].sure
    assert found[-1].index == 0  # carried on by its speed


def test_sure_again_once_alone_or_confirmed():
    x = np.linspace(-1.2, 1.2, 60)
    follower = PersonFollower()
    run(follower, [[x[0]]] * 10 + [[a, -a] for a in x])
    later = [follower.follow([at(1.2)], 3.0 + i / 25) for i in range(30)]
    assert not later[0].sure
    assert later[-1].sure


def test_largest_is_chosen_when_asked():
    poses = [at(-1.0, 6.0), at(0.5, 3.0)]
    assert PersonFollower("largest").follow(poses, 0.0).index == 1
    follower = PersonFollower()
    assert follower.choose(poses, *poses[0].image_px[24], 0.0).index == 0
    assert follower.follow(poses, 0.04).index == 0


def test_lost_person_is_not_replaced_by_one_elsewhere():
    follower = PersonFollower()
    run(follower, [[-1.0, 1.0]] * 5)
    first = follower.follow([at(-1.0), at(1.0)], 0.2).index
    left = [at(1.0), at(-1.0)][first]
    assert follower.follow([left], 0.24).index is None
    assert follower.follow([left], 9.0).new


def test_nobody_in_view():
    assert PersonFollower().follow([], 0.0).index is None
    assert PersonFollower().choose([], 0, 0, 0.0).index is None


@pytest.mark.parametrize("gap_s", [0.04, 0.3])
def test_short_gap_is_bridged(gap_s):
    follower = PersonFollower()
    run(follower, [[0.0]] * 20)
    assert follower.follow([], 0.8).index is None
    assert follower.follow([at(0.05)], 0.8 + gap_s).index == 0
