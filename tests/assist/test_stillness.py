import numpy as np
import pytest

from assist.pose.stillness import Stillness
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera.from_focal_length_px(900.0, 1280, 720)


def still_at_the_end(places_m, rate_hz=25):
    watch = Stillness()
    answer = False
    for index, (z, x) in enumerate(places_m):
        answer = watch.update(index / rate_hz, standing_pose(CAMERA, z, across_m=x))
    return answer


def test_sway_is_still_and_a_step_is_not():
    time_s = np.arange(50) / 25
    sway = [(4.0 + 0.01 * np.sin(2 * t), 0.01 * np.cos(2 * t)) for t in time_s]
    walk = [(2.0 + 1.2 * t, 0.0) for t in time_s]
    sidestep = [(4.0, 0.3 * t) for t in time_s]
    assert still_at_the_end(sway)
    assert not still_at_the_end(walk)
    assert not still_at_the_end(sidestep)


@pytest.mark.parametrize("pictures", [1, 3])
def test_not_known_yet_is_not_still(pictures):
    assert not still_at_the_end([(4.0, 0.0)] * pictures)


def test_no_one_is_not_still():
    watch = Stillness()
    for index in range(25):
        watch.update(index / 25, standing_pose(CAMERA, 4.0))
    assert not watch.update(1.0, None)
