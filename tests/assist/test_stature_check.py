"""A stated stature against the face beside the body."""

import math

import pytest

from assist.distance import BodyDistance, CueReading, Size
from assist.distance.stature_check import StatureCheck
from assist.setup.body import ADULT_STATURE_M


def seen(stated_m, true_m, unlike=0.0, own_sd=0.02):
    """What is read of somebody at 4 m; `unlike`: by how much their face differs from others'."""
    body_m = 4.0 * stated_m / true_m
    assumed, face = (stated_m / ADULT_STATURE_M) ** (1 / 3), (true_m / ADULT_STATURE_M) ** (1 / 3)
    face_m = 4.0 * assumed / (face * math.exp(unlike))
    readings = (
        CueReading("joints", body_m, own_sd * body_m, Size.BODY),
        CueReading("face", face_m, 0.02 * face_m, Size.FACE),
    )
    return BodyDistance(body_m, 0.1, body_m, 0.1, None, readings)


def contradicted(stated_m, true_m, seconds=2.0, **more):
    check = StatureCheck(stated_m)
    for index in range(round(seconds * 25)):
        check.hear(index / 25, seen(stated_m, true_m, **more))
    return check.contradicted


@pytest.mark.parametrize("stated_m", [1.2, 1.3, 1.4, 2.15])
def test_a_slip_is_told(stated_m):
    assert contradicted(stated_m, 1.67)


def test_a_gross_one_at_the_first_look():
    assert contradicted(1.2, 1.67, seconds=0.04)


@pytest.mark.parametrize("true_m", [1.2, 1.45, 1.55, 1.69, 1.85, 1.95])
@pytest.mark.parametrize("unlike", [-0.04, 0.0, 0.04])
def test_whoever_is_as_tall_as_stated_is_believed(true_m, unlike):
    assert not contradicted(true_m, true_m, unlike=unlike)


@pytest.mark.parametrize("stated_m", [1.64, 1.70])
def test_a_few_centimetres_are_no_slip(stated_m):
    assert not contradicted(stated_m, 1.67, unlike=0.05)


def test_a_folded_body_tells_nothing():
    assert not contradicted(1.2, 1.67, own_sd=0.08)


def test_an_unusual_stature_waits_for_the_face():
    assert not StatureCheck(1.70).unusual_and_unseen
    check = StatureCheck(1.2)
    assert check.unusual_and_unseen
    check.hear(0.0, seen(1.2, 1.2))
    assert not check.unusual_and_unseen
    assert not check.contradicted
    check.forget()
    assert check.unusual_and_unseen
