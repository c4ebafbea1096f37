import math

import numpy as np
import pytest

from assist.distance import CueReading
from assist.distance.fusion import SHARED, fuse


def reading(z, own, scale=0.0, name="a"):
    return CueReading(name, z, math.hypot(own, scale), scale)


def test_one_source_passes_through():
    assert fuse([reading(3.0, 0.1, 0.05)]).sd_m == pytest.approx(math.hypot(0.1, 0.05))


def test_agreeing_sources_do_not_shrink_as_if_independent():
    """Variance of a mean of correlated errors, w' C w, computed with NumPy."""
    found = fuse([reading(3.0, 0.1, 0.06), reading(3.0, 0.1, 0.06, "b")])
    own = 0.1**2 * np.array([[1, SHARED], [SHARED, 1]])
    covariance = own + 0.06**2 * np.ones((2, 2))
    weights = np.array([0.5, 0.5])
    assert found.sd_m == pytest.approx(math.sqrt(weights @ covariance @ weights))
    assert found.sd_m > math.hypot(0.1, 0.06) / math.sqrt(2) * 1.1


def test_disagreement_widens():
    near = fuse([reading(3.0, 0.1), reading(3.0, 0.1, 0, "b")])
    apart = fuse([reading(3.0, 0.1), reading(3.35, 0.1, 0, "b")])
    assert apart.sd_m > near.sd_m
    assert 3.0 < apart.eyes_m < 3.35


def test_difference_within_the_stated_errors_does_not_widen():
    """A rough source beside a sure one is off by its own error; that says nothing of the other."""
    agreeing = fuse([reading(3.0, 0.05), reading(3.0, 0.4, 0, "b")])
    rough = fuse([reading(3.0, 0.05), reading(3.35, 0.4, 0, "b")])
    assert rough.sd_m == pytest.approx(agreeing.sd_m)


def test_wild_source_does_not_move_the_answer_but_makes_it_unsure():
    found = fuse([reading(3.0, 0.1), reading(4.5, 0.1, 0, "b")])
    assert found.eyes_m == 3.0
    assert found.used == ("a",)
    assert found.sd_m > 0.5


def test_nothing_to_fuse():
    with pytest.raises(ValueError):
        fuse([])
