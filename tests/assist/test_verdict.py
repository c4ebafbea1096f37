import itertools
import math

import numpy as np
import pytest
from scipy import stats

from assist.distance import TrackedDistance
from assist.guidance.verdict import Judge, Verdict
from optics.focus_zone import FocusZone

ZONE = FocusZone(3.5, 4.0, 4.7, 0.05)


def at(z, sd=0.1):
    return TrackedDistance(0.0, z, sd, 0.0, 0.0)


@pytest.mark.parametrize("z", [2.0, 3.4, 3.9, 4.7, 6.0])
@pytest.mark.parametrize("sd", [0.02, 0.2, 0.8])
def test_probabilities_agree_with_scipy(z, sd):
    """SciPy's normal distribution is the outside reference."""
    before, within, behind = ZONE.probabilities(z, sd)
    norm = stats.norm(z, sd)
    assert before == pytest.approx(norm.cdf(3.5), abs=1e-12)
    assert behind == pytest.approx(norm.sf(4.7), abs=1e-12)
    assert before + within + behind == pytest.approx(1.0)


def test_far_limit_at_infinity_is_never_behind():
    assert FocusZone(3.5, 4.0, math.inf).probabilities(1e6, 10.0) == pytest.approx((0.0, 1.0, 0.0))


@pytest.mark.parametrize(
    ("z", "verdict"),
    [
        (2.5, Verdict.TOO_NEAR),
        (3.5, Verdict.NOT_SURE),
        (4.1, Verdict.IN_FOCUS),
        (4.7, Verdict.NOT_SURE),
        (5.5, Verdict.TOO_FAR),
    ],
)
def test_verdicts(z, verdict):
    assert Judge(ZONE).judge(at(z)).verdict is verdict


def test_no_one():
    assert Judge(ZONE).judge(None).verdict is Verdict.NO_ONE


def test_never_in_focus_when_the_distance_is_less_certain_than_the_zone_is_deep():
    judge = Judge(ZONE)
    for z in np.linspace(2.0, 6.5, 200):
        assert judge.judge(at(z, sd=0.5)).verdict is not Verdict.IN_FOCUS


def test_words_do_not_flicker_at_the_edge():
    rng = np.random.default_rng(3)
    judge = Judge(ZONE)
    verdicts = [judge.judge(at(3.63 + 0.01 * rng.standard_normal())).verdict for _ in range(200)]
    changes = sum(a is not b for a, b in itertools.pairwise(verdicts))
    assert changes <= 1


def test_in_focus_is_entered_late_and_left_early_enough():
    judge = Judge(ZONE)
    assert judge.judge(at(3.615)).verdict is Verdict.NOT_SURE  # 0.875
    assert judge.judge(at(3.64)).verdict is Verdict.IN_FOCUS  # 0.919
    assert judge.judge(at(3.615)).verdict is Verdict.IN_FOCUS
    assert judge.judge(at(3.57)).verdict is Verdict.NOT_SURE  # 0.758
