"""Depth of field and its inverses, against their own identities and 50-digit arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from mpmath import mp, mpf

from optics import lens
from optics.errors import ImpossibleValueError

mp.dps = 50

DIGITS = 1e-12  # the promise: relative error against 50 digits

focal_lengths = st.floats(0.004, 1.2)
f_numbers = st.floats(0.7, 64.0)
circles = st.floats(1e-6, 1e-4)
# Focus distance as a multiple of f: from just beyond the focal length (macro) to far away.
multiples = st.one_of(st.floats(1.0 + 1e-6, 2.0), st.floats(2.0, 100.0), st.floats(100.0, 1e6))
# Closeness of the focus to the hyperfocal distance, where the far limit is hardest to compute.
near_hyperfocal = st.floats(1e-13, 0.5)


def exact_limits(f, n, s, c):
    """Textbook forms with the hyperfocal distance, in 50 digits (Hecht, Optics; from memory)."""
    f, n, s, c = (mpf(float(x)) for x in (f, n, s, c))
    h = f * f / (n * c) + f
    near = s * (h - f) / (h + s - 2 * f)
    far = s * (h - f) / (h - s) if s < h else mpf("inf")
    return h, near, far


def off_by(value, exact):
    """Relative error; 0 when both are infinite."""
    if mp.isinf(exact) or math.isinf(value):
        return 0.0 if mp.isinf(exact) and math.isinf(value) else math.inf
    return float(abs((mpf(float(value)) - exact) / exact))


@given(focal_lengths, f_numbers, multiples, circles)
def test_limits_keep_twelve_digits(f, n, multiple, c):
    s = f * multiple
    h, near, far = exact_limits(f, n, s, c)
    found = lens.depth_of_field(f, n, s, c)
    assert off_by(lens.hyperfocal_m(f, n, c), h) < DIGITS
    assert off_by(found.near_m, near) < DIGITS
    assert off_by(found.far_m, far) < DIGITS
    assert off_by(found.in_front_m, mpf(s) - near) < DIGITS
    assert off_by(found.behind_m, far - mpf(s)) < DIGITS
    assert off_by(found.total_m, far - near) < DIGITS


@given(focal_lengths, f_numbers, circles, near_hyperfocal)
def test_limits_keep_twelve_digits_just_short_of_the_hyperfocal_distance(f, n, c, shortfall):
    s = lens.hyperfocal_m(f, n, c) * (1 - shortfall)
    assume(s > f)
    _, near, far = exact_limits(f, n, s, c)
    found = lens.depth_of_field(f, n, s, c)
    assert off_by(found.near_m, near) < DIGITS
    assert off_by(found.far_m, far) < DIGITS
    assert off_by(found.behind_m, far - mpf(s)) < DIGITS


@given(focal_lengths, f_numbers, circles)
def test_focus_next_to_the_hyperfocal_distance_falls_on_its_right_side(f, n, c):
    h = lens.hyperfocal_m(f, n, c)
    assume(h > f)
    for s in (np.nextafter(h, 0.0), h, np.nextafter(h, np.inf)):
        exact = exact_limits(f, n, s, c)[2]
        found = lens.depth_of_field(f, n, float(s), c).far_m
        # Pairs of floats know the difference to 1e-31: what is farther than that is infinite.
        assert math.isinf(found) == bool(mp.isinf(exact)) or exact > 1e28 * f


@given(focal_lengths, f_numbers, multiples, circles, st.floats(1e-3, 1e3))
def test_blur_and_its_inverses_keep_twelve_digits(f, n, multiple, c, ratio):
    s = f * multiple
    z = s * ratio
    exact = mpf(f) ** 2 * abs(mpf(z) - mpf(s)) / (mpf(n) * mpf(z) * (mpf(s) - mpf(f)))
    if z != s:
        assert off_by(lens.blur_diameter_m(f, n, s, z), exact) < DIGITS
        assert off_by(lens.f_number_for_blur(f, s, z, c), exact * mpf(n) / mpf(c)) < DIGITS
    v = mpf(f) * mpf(s) / (mpf(s) - mpf(f))
    assert off_by(lens.image_distance_m(f, s), v) < DIGITS
    assert off_by(lens.magnification(f, s), mpf(f) / (mpf(s) - mpf(f))) < DIGITS
    assert off_by(lens.lens_to_sensor_distance_m(f, s), mpf(s) + v) < DIGITS


@given(focal_lengths, st.floats(1.0, 1e6), st.floats(1e-9, 1e3), circles)
def test_aperture_for_limits_keeps_twelve_digits(f, multiple, spread, c):
    near = f * multiple
    far = near * (1 + spread)
    assume(far > near)
    f_, n_, far_, c_ = mpf(f), mpf(near), mpf(far), mpf(c)
    s = 2 * n_ * far_ / (n_ + far_)
    exact = f_**2 * (s - n_) / (c_ * n_ * (s - f_))
    assume(lens.focus_distance_for_limits_m(near, far) > f)
    assert off_by(lens.f_number_for_limits(f, near, far, c), exact) < DIGITS
    assert off_by(lens.focus_distance_for_limits_m(near, far), s) < DIGITS


@given(focal_lengths, st.floats(0.0, 1e6))
def test_sensor_distance_keeps_twelve_digits_down_to_life_size(f, beyond):
    d = 4 * f * (1 + beyond)
    exact = (mpf(d) + mp.sqrt(mpf(d) ** 2 - 4 * mpf(f) * mpf(d))) / 2
    found = lens.sensor_to_lens_distance_m(f, d)
    assert off_by(found, exact) < DIGITS
    assert lens.lens_to_sensor_distance_m(f, found) == pytest.approx(d, rel=1e-12)


@given(focal_lengths, f_numbers, multiples, circles)
def test_blur_at_both_limits_is_the_criterion(f, n, multiple, c):
    s = f * multiple
    found = lens.depth_of_field(f, n, s, c)
    # A limit is a rounded number: relative to a zone as thin as |z - s|, that is eps s / |z - s|.
    slack = 1e-12 + 4e-16 * s / found.in_front_m
    assert lens.blur_diameter_m(f, n, s, found.near_m) == pytest.approx(c, rel=slack)
    if math.isfinite(found.far_m):
        slack = 1e-12 + 4e-16 * s / found.behind_m + 4e-16 * found.far_m / s
        assert lens.blur_diameter_m(f, n, s, found.far_m) == pytest.approx(c, rel=slack)
    else:
        assert lens.blur_diameter_m(f, n, s, math.inf) <= c * (1 + 1e-12)


@given(focal_lengths, f_numbers, multiples, circles)
def test_focus_lies_inside_its_zone(f, n, multiple, c):
    s = f * multiple
    found = lens.depth_of_field(f, n, s, c)
    assert found.near_m < s < found.far_m or found.in_front_m < 1e-15 * s
    assert found.in_front_m < found.behind_m


@given(focal_lengths, f_numbers, multiples, circles, st.floats(1.001, 4.0))
def test_stopping_down_and_stepping_back_widen_the_zone(f, n, multiple, c, more):
    """Direction of change: common practice, no source."""
    s = f * multiple
    here = lens.depth_of_field(f, n, s, c)
    stopped = lens.depth_of_field(f, n * more, s, c)
    assert stopped.near_m < here.near_m
    assert stopped.far_m > here.far_m or math.isinf(stopped.far_m)
    assume(f > n * c)  # else even the aperture's own width is within c, and nothing is blurred
    back = lens.depth_of_field(f, n, s * more, c)
    assert back.near_m > here.near_m
    assert back.far_m > here.far_m or math.isinf(back.far_m)
    assert back.in_front_m > here.in_front_m


@given(focal_lengths, f_numbers, circles)
def test_infinity_is_exact(f, n, c):
    at_infinity = lens.depth_of_field(f, n, math.inf, c)
    assert at_infinity.near_m == pytest.approx(f * f / (n * c), rel=1e-15)
    assert math.isinf(at_infinity.far_m)
    assert lens.image_distance_m(f, math.inf) == f
    assert lens.magnification(f, math.inf) == 0
    assert lens.blur_diameter_m(f, n, math.inf, math.inf) == 0
    # Focused at infinity the blur of a point at z is the pupil's diameter times f / z.
    assert lens.blur_diameter_m(f, n, math.inf, 7.0) == pytest.approx(f / n * f / 7.0, rel=1e-14)
    assert lens.sensor_to_lens_distance_m(f, math.inf) == math.inf
    h = lens.hyperfocal_m(f, n, c)
    assert lens.focus_distance_for_limits_m(h / 2, math.inf) == pytest.approx(h, rel=1e-15)


def test_a_worked_example_of_the_trade():
    """50 mm, f/5.6, 3 m, c = 0.02 mm: 0.81 m in all (about 2.6 ft). Common practice, no source."""
    assert lens.depth_of_field(0.05, 5.6, 3.0, 2e-5).total_m == pytest.approx(0.81, abs=0.005)


def test_arrays_broadcast_and_scalars_come_back_as_scalars():
    one = lens.depth_of_field(0.05, 5.6, 3.0, 2e-5)
    many = lens.depth_of_field(0.05, [[4.0], [5.6]], [2.0, 3.0, np.inf], 2e-5)
    assert isinstance(one.near_m, float)
    assert many.near_m.shape == (2, 3)
    assert many.near_m[1, 1] == one.near_m
    assert np.isinf(many.far_m[:, 2]).all()


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: lens.depth_of_field(0.05, 0, 3, 2e-5), "f-number must be above zero, not 0"),
        (lambda: lens.depth_of_field(0.05, 5.6, 0.05, 2e-5), "above the focal length"),
        (lambda: lens.depth_of_field(0.05, 5.6, 3, -1), "circle of confusion must be above zero"),
        (lambda: lens.depth_of_field(math.nan, 5.6, 3, 2e-5), "focal length must be a number"),
        (lambda: lens.depth_of_field(0.05, math.inf, 3, 2e-5), "f-number must be finite"),
        (lambda: lens.sensor_to_lens_distance_m(0.05, 0.19), "four focal lengths"),
        (lambda: lens.blur_diameter_m(0.05, 2, 3, 0), "distance must be above zero"),
        (lambda: lens.f_number_for_limits(0.05, 3, 3, 2e-5), "above the near limit"),
        (lambda: lens.f_number_for_limits(0.05, 0.02, 0.03, 2e-5), "above the focal length"),
        (lambda: lens.hyperfocal_m("wide", 2, 2e-5), "focal length must be a number"),
    ],
)
def test_impossible_numbers_are_named(call, says):
    with pytest.raises(ImpossibleValueError, match=says):
        call()
