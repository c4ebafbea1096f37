import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from optics import FocusZone, ImpossibleValueError, blur_diameter_m, depth_of_field, hyperfocal_m

C = 0.00003


def test_distances_start_where_they_say():
    """Set-up and sums by hand: 85 mm focused at 3 m from the sensor, thin lens 1/f = 1/s + 1/v."""
    zone = FocusZone.of(0.085, 1.8, 3.0, C)
    s = (3 + math.sqrt(9 - 4 * 0.085 * 3)) / 2
    assert zone.best_m == pytest.approx(s, rel=1e-12)
    assert zone.best_from_sensor_m == pytest.approx(3.0, rel=1e-12)
    assert 1 / zone.best_m + 1 / zone.sensor_offset_m == pytest.approx(1 / 0.085, rel=1e-12)
    assert zone.near_from_sensor_m - zone.near_m == pytest.approx(zone.sensor_offset_m)
    assert zone.from_lens_m(zone.far_from_sensor_m) == pytest.approx(zone.far_m)


@given(st.floats(0.012, 0.3), st.floats(1.2, 22), st.floats(1.3, 30), st.floats(0.00001, 0.00006))
def test_limits_are_where_the_blur_is_the_circle_of_confusion(f, n, distance, c):
    zone = FocusZone.of(f, n, distance, c)
    limits = depth_of_field(f, n, zone.best_m, c)
    assert (zone.near_m, zone.far_m) == (limits.near_m, limits.far_m)
    assert blur_diameter_m(f, n, zone.best_m, zone.near_m) == pytest.approx(c, rel=1e-6)
    if math.isfinite(zone.far_m):
        assert zone.behind_m == pytest.approx(limits.behind_m, rel=1e-6)
        assert blur_diameter_m(f, n, zone.best_m, zone.far_m) == pytest.approx(c, rel=1e-4)
    assert zone.in_front_m == pytest.approx(limits.in_front_m, rel=1e-6)
    assert zone.holds(zone.best_m)
    assert not zone.holds(zone.near_m * 0.999)


def test_infinity():
    zone = FocusZone.of(0.035, 2.0, math.inf, C)
    assert zone.far_m == zone.best_m == zone.behind_m == math.inf
    assert zone.near_m == pytest.approx(hyperfocal_m(0.035, 2.0, C) - 0.035)
    assert zone.sensor_offset_m == 0.035
    assert zone.probabilities(5.0, 100.0).behind == 0


@pytest.mark.parametrize("distance_m, sd_m", [(2.0, 0.1), (2.95, 0.02), (3.2, 0.4), (9.0, 0.5)])
def test_probabilities_are_those_of_a_normal_distribution(distance_m, sd_m):
    """Against SciPy's `norm`."""
    zone = FocusZone.of(0.05, 2.8, 3.0, C)
    found = zone.probabilities(distance_m, sd_m)
    near, far = norm.cdf([zone.near_m, zone.far_m], distance_m, sd_m)
    assert found == pytest.approx((near, far - near, 1 - far), abs=1e-12)
    assert sum(found) == pytest.approx(1)


def test_how_far_behind_the_plane_of_focus():
    zone = FocusZone.of(0.05, 2.8, 3.0, C)
    assert zone.behind_best_m(zone.best_m + 0.25) == pytest.approx(0.25)
    assert zone.behind_best_m(zone.near_m) == pytest.approx(-zone.in_front_m)


@pytest.mark.parametrize(
    "limits", [(0.0, 1.0, 2.0), (2.0, 1.0, 3.0), (1.0, 3.0, 2.0), (1.0, np.nan, 2.0)]
)
def test_refuses_limits_that_do_not_enclose_the_plane(limits):
    with pytest.raises(ImpossibleValueError, match="enclose"):
        FocusZone(*limits)
    with pytest.raises(ImpossibleValueError, match="behind the lens"):
        FocusZone(1.0, 2.0, 3.0, -0.1)
