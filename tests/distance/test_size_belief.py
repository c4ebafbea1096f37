"""What comparing face and body teaches, and what it never can."""

import math

import numpy as np
import pytest

from assist.distance import Size
from assist.distance.size_belief import SizeBelief
from assist.setup.body import Person, shape_from_stature

SHAPE = Person(1.70).shape


def compared(belief, face_m, body_m, seconds, folded=0.0, begin_s=0.0):
    for k in range(round(seconds * 30)):
        belief.compare(Size.FACE, face_m, body_m, folded, begin_s + k / 30)
    return belief


def test_nothing_is_known_but_the_prior():
    belief = SizeBelief(SHAPE)
    assert belief.factor(Size.BODY) == belief.factor(Size.FACE) == 1.0
    assert belief.sd(Size.BODY) == SHAPE.scale_sd
    assert belief.sd(Size.FACE) == SHAPE.face_sd


def test_a_minute_in_view_leaves_the_floor():
    """Two unknowns and their difference measured exactly: both are then known to the closed form
    of `SizeBelief`, sqrt((b^2 f^2 - s^4) / (b^2 + f^2 - 2 s^2)), s^2 their covariance."""
    belief = compared(SizeBelief(SHAPE), 4.0, 4.2, 6000.0)
    b2, f2 = SHAPE.scale_sd**2, SHAPE.face_sd**2
    s2 = SHAPE.size_covariance[Size.BODY, Size.FACE]
    floor = math.sqrt((b2 * f2 - s2**2) / (b2 + f2 - 2 * s2))
    assert belief.sd(Size.BODY) == pytest.approx(floor, rel=0.02)
    assert belief.sd(Size.FACE) == pytest.approx(floor, rel=0.02)
    assert floor > 0.8 * SHAPE.scale_sd
    # They agree with each other now, nearer to the body's reading, which was known better.
    depth = 4.0 * belief.factor(Size.FACE)
    assert depth == pytest.approx(4.2 * belief.factor(Size.BODY), rel=0.002)
    assert 4.1 < depth < 4.2


def test_after_a_minute_the_interval_holds_as_often_as_it_says():
    """Simulated people: sizes drawn from the prior, a body that errs by 5 % independently twice a
    second, as the belief takes it."""
    random = np.random.default_rng(3)
    covariance = SHAPE.size_covariance
    held = 0
    people = 300
    for _ in range(people):
        body, face, _head = random.multivariate_normal(np.zeros(3), covariance)
        belief = SizeBelief(SHAPE)
        for k in range(120):
            body_m = 4.0 * math.exp(-body + random.normal(0, 0.05))
            belief.compare(Size.FACE, 4.0 * math.exp(-face), body_m, 0.0, k / 2)
        told = math.log(4.0 * math.exp(-face) * belief.factor(Size.FACE) / 4.0)
        held += abs(told) <= 1.645 * belief.sd(Size.FACE)
    assert 0.86 <= held / people <= 0.94


def test_learned_from_upright_bodies_only():
    belief = compared(SizeBelief(SHAPE), 4.0, 4.3, 7.0, folded=0.9)
    assert belief.factor(Size.FACE) == 1.0
    assert belief.sd(Size.FACE) == SHAPE.face_sd


def test_times_that_do_not_go_on_teach_nothing_more():
    belief = compared(SizeBelief(SHAPE), 4.0, 4.2, 1.0)
    before = belief.factor(Size.FACE)
    belief.compare(Size.FACE, 4.0, 4.2, 0.0, 0.5)
    assert belief.factor(Size.FACE) == before


def test_forgets():
    belief = compared(SizeBelief(SHAPE), 4.0, 4.3, 20.0)
    assert belief.factor(Size.FACE) != 1.0
    belief.forget()
    assert belief.factor(Size.FACE) == 1.0
    assert belief.sd(Size.BODY) == SHAPE.scale_sd


@pytest.mark.parametrize("relative_sd", [0.0, 0.01, 0.053, 0.13])
def test_a_prior_is_a_covariance(relative_sd):
    eigenvalues = np.linalg.eigvalsh(shape_from_stature(1.7, relative_sd).size_covariance)
    assert (eigenvalues > 0).all()


def test_an_unknown_stature_stays_unknown_however_long():
    """The face is known to some per cent at best, and its size says little of the body's."""
    unknown = Person().shape
    belief = compared(SizeBelief(unknown), 4.0, 4.0, 600.0)
    assert belief.sd(Size.BODY) > 0.03
