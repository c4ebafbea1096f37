"""Depth of field as old handbooks print it.

Sources: "The Barnet Book of Photography", chapter on lenses, section "Depth"; James A. Sinclair,
"The Sinclair Handbook of Photography", section "Lens Facts". Both use a circle of confusion of
1/100 inch and count the hyperfocal distance as f^2 / (N c), that is from the front focal point;
the Sinclair limits leave the focal length out beside the distance (half a foot in 26).
"""

from __future__ import annotations

import math

import pytest

from optics import lens
from optics.units import METRES_PER_FOOT, METRES_PER_INCH

HUNDREDTH_INCH_M = METRES_PER_INCH / 100


def inches(value):
    return value * METRES_PER_INCH


def feet(value):
    return value * METRES_PER_FOOT


def test_barnet_six_inch_lens_at_f8_has_450_inches():
    """100 x 36 / 8 = 450 in = 37 1/2 ft, "extra-focal"."""
    f = inches(6)
    beyond_focal_point = lens.hyperfocal_m(f, 8, HUNDREDTH_INCH_M) - f
    assert beyond_focal_point == pytest.approx(inches(450), rel=1e-12)
    assert beyond_focal_point == pytest.approx(feet(37.5), rel=1e-12)


def test_sinclair_five_inch_lens_at_f8_has_26_feet():
    f = inches(5)
    h = lens.hyperfocal_m(f, 8, HUNDREDTH_INCH_M)
    assert h - f == pytest.approx(feet(26), abs=feet(0.5))
    focused = lens.depth_of_field(f, 8, h, HUNDREDTH_INCH_M)
    assert focused.near_m == pytest.approx(feet(13), abs=feet(0.5))
    assert math.isinf(focused.far_m)


def test_sinclair_divided_hyperfocal_distances_are_each_others_limits():
    """Piper's series, as Sinclair gives it: focus on H / k, sharp from H / (k + 1) to H / (k - 1).

    His example is 30 ft: focused on 10 ft, sharp from 7 1/2 to 15 ft. Counted from the front focal
    point the exact limits are (h - f) / (k + 1) and (h + f) / (k - 1), h = 30 ft, k = 3.
    """
    f, c = inches(5), HUNDREDTH_INCH_M
    n = f * f / (c * feet(30))  # the aperture that makes H = 30 ft
    found = lens.depth_of_field(f, n, feet(30) / 3 + f, c)
    assert found.near_m - f == pytest.approx(feet(7.5) - f / 4, rel=1e-12)
    assert found.far_m - f == pytest.approx(feet(15) + f / 2, rel=1e-12)
