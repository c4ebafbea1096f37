"""Against the closed form: pixels = f S / D, and f X / D to the side."""

import math

import pytest

from assist.calibrate.separation import MarkSummary, separate


def marks(focal, size, places, assumed=1000.0):
    """What marks at (depth, across) show when focal length and size are wrong by those factors."""
    return [
        MarkSummary(focal * size, 0.012, d, x, 0.05 + (0.0 if x is None else focal * x / d))
        for d, x in places
    ]


def test_depths_alone_show_only_the_product():
    found = separate(
        marks(1.2, 0.95, [(2, None), (3, None), (5, None)]), focal_prior_sd=None, size_prior_sd=0.06
    )
    assert found.focal * found.size == pytest.approx(1.2 * 0.95, rel=1e-3)
    assert not found.separated
    assert found.product_sd < 0.01
    assert found.focal_sd > 0.05
    assert "could not be told apart" in found.in_words()


def test_a_mark_to_the_side_separates():
    found = separate(
        marks(1.2, 0.95, [(3, 0.0), (3, 1.5), (3, -1.5)]), focal_prior_sd=None, size_prior_sd=0.06
    )
    assert found.focal == pytest.approx(1.2, rel=0.01)
    assert found.size == pytest.approx(0.95, rel=0.01)
    assert found.separated


def test_a_known_lens_separates():
    found = separate(marks(1.0, 0.93, [(3, None)]), focal_prior_sd=0.005, size_prior_sd=0.06)
    assert found.size == pytest.approx(0.93, rel=0.01)
    assert found.separated


def test_a_stature_separates_less_well_than_a_lens():
    lens = separate(marks(1.0, 1.0, [(3, None)]), focal_prior_sd=0.005, size_prior_sd=0.06)
    stature = separate(marks(1.0, 1.0, [(3, None)]), focal_prior_sd=None, size_prior_sd=0.027)
    assert lens.size_sd < stature.size_sd
    assert math.isclose(stature.size_sd, 0.027, rel_tol=0.05)


def test_no_mark_is_an_error():
    with pytest.raises(ValueError):
        separate([], focal_prior_sd=None, size_prior_sd=0.06)
