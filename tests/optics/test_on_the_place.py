"""Movement, recomposing, ground marks, walking, and blur as it is seen."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mpmath import mp, mpf

from optics import ground_marks, lens, motion, recompose, walking
from optics.blur_seen import blur_seen
from optics.camera import PinholeCamera
from optics.errors import ImpossibleValueError
from optics.sensor import FORMATS

mp.dps = 50
FULL = FORMATS["full-frame"]


@given(
    st.floats(0.01, 5), st.floats(1e-4, 1), st.floats(0.02, 0.3), st.floats(1, 20),
    st.floats(0.7, 1.5),
)  # fmt: skip
def test_motion_blur_is_the_way_a_projected_point_goes(speed, time, f, s, ratio):
    """Against OpenCV's projection of the point before and after."""
    z = s * ratio
    camera = PinholeCamera.from_lens(FULL, f, s, 6000, 4000)
    ends = np.array([[0.0, 0.0, z], [speed * time, 0.0, z]])
    seen, _ = cv2.projectPoints(ends, np.zeros(3), np.zeros(3), camera.opencv_matrix, None)
    moved_m = (seen[1, 0, 0] - seen[0, 0, 0]) * FULL.width_m / 6000
    assert motion.motion_blur_m(speed, time, f, s, z) == pytest.approx(moved_m, rel=1e-9)


@given(st.floats(0.01, 5), st.floats(1e-6, 1e-4), st.floats(0.02, 0.3), st.floats(1, 20))
def test_the_longest_time_makes_just_that_blur(speed, blur, f, s):
    time = motion.longest_shutter_s(speed, blur, f, s, s)
    assert motion.motion_blur_m(speed, time, f, s, s) == pytest.approx(blur, rel=1e-12)


def test_walking_speed_is_the_published_one():
    """0.943 to 1.434 m/s, by age and sex: Bohannon and Andrews 2011, Physiotherapy 97:182 (abstract
    looked up).

    Steady walking: the paper warns that a way that starts from a standstill, or turns, is no such
    thing. So the time to the mark, which does both, has to come out slower on the whole.
    """
    slowest, fastest = 0.943, 1.434
    assert slowest <= motion.WALKING.speed_m_s <= fastest
    for way_m in (1.0, 3.0, 8.0):
        assert way_m / walking.time_to_mark_s(way_m, settle_s=0.0) < slowest
    speeds = [movement.speed_m_s for movement in motion.MOVEMENTS]
    assert speeds == sorted(speeds)


@given(st.floats(0.3, 30), st.floats(1e-9, 1.5))
def test_recomposing_shift_keeps_its_digits(reach, angle):
    exact = mpf(reach) * (1 - mp.cos(mpf(angle)))
    assert float(abs(mpf(recompose.shift_m(reach, angle)) / exact - 1)) < 1e-12
    depth = recompose.depth_after_m(reach, angle)
    assert depth + recompose.shift_m(reach, angle) == pytest.approx(reach, rel=1e-14)


@given(st.floats(0.5, 20), st.floats(-0.9, 0.9))
def test_recomposing_is_a_rotation_of_the_camera(reach, angle):
    """The stand-in's depth after OpenCV's rotation about the lens by the angle."""
    turned = cv2.Rodrigues(np.array([0.0, angle, 0.0]))[0] @ np.array([0.0, 0.0, reach])
    assert recompose.depth_after_m(reach, angle) == pytest.approx(turned[2], rel=1e-12)


def test_recomposing_by_half_a_turn_is_refused():
    with pytest.raises(ImpossibleValueError, match="under 90 degrees"):
        recompose.shift_m(3, math.pi / 2)


def test_a_stretched_tape_by_pythagoras():
    assert ground_marks.slant_m(4.0, 3.0) == 5.0
    assert ground_marks.along_ground_m(13.0, 5.0) == 12.0
    assert math.isinf(ground_marks.slant_m(math.inf, 1.5))
    assert math.isinf(ground_marks.along_ground_m(math.inf, 1.5))
    with pytest.raises(ImpossibleValueError, match="above the camera height"):
        ground_marks.along_ground_m(1.4, 1.5)


@given(st.floats(1e-6, 1e4), st.floats(0.01, 10))
def test_a_stretched_tape_and_back(along, height):
    slant = ground_marks.slant_m(along, height)
    assert slant >= max(along, height)
    if slant > height:
        back = ground_marks.along_ground_m(slant, height)
        # Near the tripod the tape hardly grows: the last digit of r is worth eps r^2 / d.
        assert back == pytest.approx(along, rel=1e-12, abs=1e-15 * slant**2 / along)


def test_time_to_the_mark():
    assert walking.time_to_mark_s(3.9, 1.3, 1.0, 1.5, 2.0) == pytest.approx(7.5)
    spare = {x.delay_s: x.to_spare_s for x in walking.timer_choices(7.5)}
    assert spare[10] == 2.5
    assert spare[5] == -2.5
    with pytest.raises(ImpossibleValueError, match="path"):
        walking.time_to_mark_s(0)


@given(st.floats(0.02, 0.3), st.floats(1.4, 22), st.floats(1, 20), st.floats(0.5, 50))
def test_blur_as_seen(f, n, s, z):
    seen = blur_seen(f, n, s, z, 0.036, 6000)
    assert seen.diameter_m == lens.blur_diameter_m(f, n, s, z)
    assert seen.share_of_width * 0.036 == pytest.approx(seen.diameter_m)
    assert seen.pixels == pytest.approx(seen.diameter_m / (0.036 / 6000))
    assert blur_seen(f, n, s, math.inf, 0.036).pixels is None
