import math

import numpy as np
import pytest

from assist.distance import CueReading, Size
from assist.distance.fusion import SHARED, fuse

EXACT = np.zeros((3, 3))


def reading(z, own, size=Size.BODY, name="a"):
    return CueReading(name, z, own, size)


def face(z, own):
    return reading(z, own, Size.FACE, "b")


def known_to(body, face=0.0, shared=0.0):
    """Covariance of the sizes' relative errors."""
    return np.array([[body**2, shared**2, 0], [shared**2, face**2, 0], [0, 0, 0.0]])


def test_one_source_passes_through():
    found = fuse([reading(3.0, 0.1)], known_to(0.02))
    assert (found.eyes_m, found.own_sd_m) == (3.0, pytest.approx(0.1))
    assert found.common_sd_m == pytest.approx(0.06)
    assert found.sd_m == pytest.approx(math.hypot(0.1, 0.06))


def test_variance_is_that_of_the_best_linear_unbiased_estimate():
    """Weights C^-1 1 / (1' C^-1 1) and variance 1 / (1' C^-1 1), any text on least squares."""
    sizes = known_to(0.02, 0.04, 0.015)
    found = fuse([reading(3.0, 0.1), face(3.05, 0.05)], sizes)
    own = np.array([[0.01, SHARED * 0.005], [SHARED * 0.005, 0.0025]])
    z = np.array([3.0, 3.05])
    inverse = np.linalg.inv(own + np.outer(z, z) * sizes[:2, :2])
    assert found.eyes_m == pytest.approx(float(z @ inverse.sum(axis=1) / inverse.sum()))
    assert found.sd_m**2 == pytest.approx(1 / inverse.sum())


def test_what_sources_share_does_not_shrink():
    shared = known_to(0.02, 0.02, 0.02)
    found = fuse([reading(3.0, 0.1), face(3.0, 0.1)], shared)
    assert found.common_sd_m == pytest.approx(0.06)
    assert 0.1 / math.sqrt(2) < found.own_sd_m < 0.1


def test_a_source_that_could_only_weigh_negative_does_not_count():
    found = fuse([reading(3.0, 0.01), face(3.1, 0.2)], EXACT)
    assert found.eyes_m == 3.0


def test_disagreement_widens():
    near = fuse([reading(3.0, 0.1), face(3.0, 0.1)], EXACT)
    apart = fuse([reading(3.0, 0.1), face(3.35, 0.1)], EXACT)
    assert apart.own_sd_m > near.own_sd_m
    assert 3.0 < apart.eyes_m < 3.35


def test_difference_within_the_stated_errors_does_not_widen():
    """A rough source beside a sure one is off by its own error; that says nothing of the other."""
    agreeing = fuse([reading(3.0, 0.05), face(3.0, 0.4)], EXACT)
    rough = fuse([reading(3.0, 0.05), face(3.35, 0.4)], EXACT)
    assert rough.sd_m == pytest.approx(agreeing.sd_m)


def test_wild_source_does_not_move_the_answer_but_makes_it_unsure():
    found = fuse([reading(3.0, 0.1), face(4.5, 0.11)], EXACT)
    assert found.eyes_m == 3.0
    assert found.used == ("a",)
    assert found.sd_m > 0.5


def test_nothing_to_fuse():
    with pytest.raises(ValueError):
        fuse([], EXACT)
