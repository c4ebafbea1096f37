"""The plane of focus on the scale of the measured distances: closed forms, and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from optics.errors import ImpossibleValueError
from optics.focus_zone import FocusZone, normal_cdf
from optics.lens import blur_diameter_m
from optics.plane_of_focus import PlaneOfFocus, circles_of_confusion

CONFUSION_M = math.hypot(36e-3, 24e-3) / 1500
SET_UPS = ((0.085, 1.8, 2.4), (0.085, 1.8, 4.0), (0.050, 1.4, 2.0))


def zone_of(focal_m: float, f_number: float, focus_m: float) -> FocusZone:
    return FocusZone.of(focal_m, f_number, focus_m, CONFUSION_M)


@pytest.mark.parametrize("set_up", SET_UPS)
@pytest.mark.parametrize("away", [-0.08, -0.01, 0.0, 0.01, 0.2])
def test_blur_follows_the_thin_lens(set_up: tuple[float, float, float], away: float) -> None:
    """A |1 - r / z| is the thin lens's blur, which `test_lens` holds against its sources."""
    focal_m, f_number, _ = set_up
    zone = zone_of(*set_up)
    z = zone.best_m * (1 + away)
    exact = blur_diameter_m(focal_m, f_number, zone.best_m, z) / CONFUSION_M
    assert circles_of_confusion(zone) * abs(1 - zone.best_m / z) == pytest.approx(exact, rel=1e-9)


def test_untaught_it_is_what_was_stated() -> None:
    plane = PlaneOfFocus.stated(0.03)
    assert plane.mean == pytest.approx(0.0, abs=1e-12)
    assert plane.sd == pytest.approx(0.03, rel=1e-3)
    assert plane.ratio == 1.0


@pytest.mark.parametrize(("ratio", "sd"), [(1.01, 0.005), (0.98, 0.01), (1.0, 0.03)])
def test_a_mark_is_bayes_rule_for_two_normals(ratio: float, sd: float) -> None:
    """Closed form: precisions add up, means weigh by them."""
    prior = 0.03
    weight = prior**2 / (prior**2 + sd**2)
    taught = PlaneOfFocus.stated(prior).marked(ratio, sd)
    assert taught.mean == pytest.approx(
        weight * math.log(ratio), abs=0.02 * abs(math.log(ratio)) + 2e-4
    )
    assert taught.sd == pytest.approx(sd * math.sqrt(weight), rel=0.25)


def test_several_marks_average_the_postures() -> None:
    plane = PlaneOfFocus.stated(0.03)
    for _ in range(4):
        plane = plane.marked(1.01, 0.006)
    assert plane.sd == pytest.approx(0.003, rel=0.06)
    assert plane.ratio == pytest.approx(1.01, rel=5e-4)


@pytest.mark.parametrize("away", [-0.03, 0.0, 0.012])
@pytest.mark.parametrize("own_sd", [0.004, 0.02])
def test_probabilities_are_those_of_the_zone_for_one_normal(away: float, own_sd: float) -> None:
    """A normal belief and a normal reading are one normal of both variances, in logarithms."""
    zone, prior = zone_of(0.085, 1.8, 4.0), 0.02
    z = zone.best_m * (1 + away)
    spread = math.hypot(prior, own_sd)
    before = normal_cdf((math.log(zone.near_m) - math.log(z)) / spread)
    behind = normal_cdf((math.log(z) - math.log(zone.far_m)) / spread)
    told = PlaneOfFocus.stated(prior).probabilities(zone, z, own_sd)
    assert told.before == pytest.approx(before, abs=1e-4)
    assert told.behind == pytest.approx(behind, abs=1e-4)
    assert sum(told) == pytest.approx(1.0)


def test_a_zone_without_end_has_nothing_behind_it() -> None:
    zone = zone_of(0.024, 11.0, 3.0)
    assert math.isinf(zone.far_m)
    assert PlaneOfFocus.stated(0.03).probabilities(zone, 40.0, 0.01).behind == 0.0


def test_a_soft_picture_leaves_both_sides_open() -> None:
    zone = zone_of(0.085, 1.8, 2.4)
    blur = circles_of_confusion(zone) * 0.03
    soft = PlaneOfFocus.stated(0.05).pictured(1.0, 0.003, blur, 0.1 * blur, zone)
    assert not soft.one_sided
    assert abs(math.log(soft.ratio)) == pytest.approx(0.03, rel=0.1)
    nearer = soft.within(0.01, math.exp(-0.03))
    assert nearer == pytest.approx(soft.within(0.01, math.exp(0.03)), rel=0.1)


def test_what_is_sharper_in_the_picture_tells_the_side() -> None:
    zone = zone_of(0.085, 1.8, 2.4)
    blur = circles_of_confusion(zone) * 0.03
    told = PlaneOfFocus.stated(0.05).pictured(1.0, 0.003, blur, 0.1 * blur, zone, 0.95)
    assert told.one_sided
    assert told.ratio == pytest.approx(1.03, rel=0.004)


def test_a_second_picture_from_elsewhere_tells_the_side() -> None:
    zone, plane = zone_of(0.085, 1.8, 2.4), PlaneOfFocus.stated(0.05)
    reach = circles_of_confusion(zone)
    for place in (1.0, 1.012):
        blur = reach * abs(1 - 1.03 / place)
        plane = plane.pictured(place, 0.003, blur, 0.1 * blur, zone)
    assert plane.one_sided
    assert plane.ratio == pytest.approx(1.03, rel=0.004)


def test_a_sharp_picture_is_about_as_good_as_a_mark() -> None:
    zone = zone_of(0.085, 1.8, 2.4)
    sharp = PlaneOfFocus.stated(0.04).pictured(1.01, 0.004, 0.3, 0.15, zone)
    assert sharp.ratio == pytest.approx(1.01, rel=0.002)
    assert sharp.sd < 0.013


def test_a_stray_observation_does_not_end_all_doubt() -> None:
    """Somebody moved at the last moment: what said otherwise before and after still counts."""
    plane = PlaneOfFocus.stated(0.03)
    for ratio in (1.01, 1.01, 0.93, 1.01, 1.01):
        plane = plane.marked(ratio, 0.005)
    assert plane.ratio == pytest.approx(1.01, rel=0.002)


def test_drift_adds_its_variance() -> None:
    drifted = PlaneOfFocus.stated(0.03).marked(1.0, 0.005).drifted(0.01)
    assert drifted.sd == pytest.approx(math.hypot(0.005, 0.01), rel=0.05)
    assert drifted.weights.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("bad", [0.0, -0.1, math.nan])
def test_impossible_values_are_refused(bad: float) -> None:
    with pytest.raises(ImpossibleValueError):
        PlaneOfFocus.stated(bad)
    with pytest.raises(ImpossibleValueError):
        PlaneOfFocus.stated(0.03).marked(bad, 0.01)


def found_by_three_pictures(
    set_up: tuple[float, float, float], rng: np.random.Generator, repeat_sd: float
) -> float:
    """Error of the plane, relative, after one picture from before it and one from either side."""
    zone = zone_of(*set_up)
    reach = circles_of_confusion(zone)
    true = math.exp(float(np.clip(rng.normal(0, 0.03), -0.05, 0.05)))
    always = rng.uniform(0, 0.5)
    plane = PlaneOfFocus.stated(0.03)
    for halves in (-1.5, 1.0, -1.0):
        place = plane.ratio * (1 + halves / reach) * math.exp(rng.normal(0, 0.005))
        blur = math.hypot(reach * abs(1 - true / place), always)
        seen = blur * (1 + rng.normal(0, 0.1))
        read = place * math.exp(rng.normal(0, repeat_sd))
        plane = plane.pictured(read, repeat_sd, seen, 0.1 * max(seen, 0.3), zone)
    return abs(plane.ratio / true - 1)


@pytest.mark.parametrize(
    ("set_up", "within_third"), list(zip(SET_UPS, (0.72, 0.92, 0.92), strict=True))
)
def test_three_pictures_find_the_plane(
    set_up: tuple[float, float, float], within_third: float
) -> None:
    """The focus 3 % (sd), at most 5 %, off; blur read within 10 %; repeatability 0.5 %."""
    rng = np.random.default_rng(7)
    half = 1 / circles_of_confusion(zone_of(*set_up))
    errors = np.array([found_by_three_pictures(set_up, rng, 0.005) for _ in range(150)])
    assert np.mean(errors < half) >= 0.96
    assert np.mean(errors < half / 3) >= within_third


def test_belief_is_as_sure_as_it_is_right() -> None:
    """Over cases drawn as the belief assumes, its 90 % interval holds nine times in ten."""
    rng = np.random.default_rng(11)
    held = []
    for _ in range(300):
        true, zone = math.exp(rng.normal(0, 0.03)), zone_of(0.085, 1.8, 4.0)
        read = true * math.exp(rng.normal(0, 0.006))
        plane = PlaneOfFocus.stated(0.03).marked(read, 0.006)
        blur = math.hypot(circles_of_confusion(zone) * abs(1 - true / 1.01), rng.uniform(0, 0.6))
        seen = blur + rng.normal(0, 0.2)
        plane = plane.pictured(1.01 * math.exp(rng.normal(0, 0.006)), 0.006, seen, 0.2, zone)
        held.append(abs(math.log(true) - plane.mean) <= 1.645 * plane.sd)
    assert 0.85 <= np.mean(held) <= 0.96
