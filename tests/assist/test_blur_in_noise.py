"""Small and noisy eyes: what is an edge and what is noise, and which size is followed."""

import math

import numpy as np
import pytest

from assist.review.blur import blur_in_noise, edges, noise
from assist.review.blur.blur_in_noise import Seen
from assist.review.blur.directions import Directions, Oval
from assist.review.blur.estimate import Estimate, NotMeasured
from assist.review.blur.measure import measure
from assist.review.blur.region import MeasuredRegion
from assist.review.checked import Sharpness
from tests.assist import blur_truth as bt
from tests.benchmarks.review_blur import LIMIT_PX, agreement, causes, interval_held

NOTHING = NotMeasured("nothing")
EQUAL = {"gauss": 1 / 3, "disc": 1 / 3, "box": 1 / 3}


def of_width(width_px, across_px=None, angle=None, edges=150):
    across = width_px if across_px is None else across_px
    return Estimate(
        width_px / 4, across / 4, angle, (width_px + across) / 8, 0.05, EQUAL, edges
    )  # fmt: skip


def followed(full, half, wide, ways=None, soft_px=0.0):
    found, _ = blur_in_noise.together(Seen(full, half, wide, ways, ways, soft_px))
    return found


def test_full_size_is_followed_where_the_blur_is_fine():
    """In a small face, half size reads too much: two of three say that little is blurred."""
    found = followed(of_width(3.0), of_width(7.0), of_width(3.5))
    assert 4 * found.sigma_px == pytest.approx(3.0, rel=0.02)


def test_half_size_is_followed_where_the_blur_is_wide():
    """Of a wide smear, full size sees what is still sharp."""
    found = followed(of_width(3.2), of_width(13.0, 5.0, 0.1), of_width(11.0))
    assert 4 * found.sigma_px > 11
    assert found.angle is None  # no witnesses tell it
    ways = Directions(15.0, Oval(3.2, 1.2, 0.1, ratio_apart=2.0))
    found = followed(of_width(3.2), of_width(13.0, 5.0, 0.1), of_width(11.0), ways)
    assert found.angle == pytest.approx(0.1)
    assert found.across_px < 0.5 * found.sigma_px


def test_between_the_two_their_disagreement_counts():
    near, far = of_width(5.0), of_width(9.0)
    assert followed(near, far, of_width(7.0)).spread > 0.2
    assert followed(of_width(6.8), of_width(7.6), of_width(7.3)).spread < 0.1


def test_softness_of_things_is_taken_off_in_squares_but_never_all():
    found = followed(of_width(4.0), of_width(5.0), of_width(4.0), soft_px=1.5)
    assert 4 * found.sigma_px == pytest.approx(math.sqrt(4.0**2 - 1.5**2))
    found = followed(of_width(1.0), of_width(4.0), of_width(2.0), soft_px=1.5)
    assert 0 < 4 * found.sigma_px < 0.5


def test_a_few_edges_at_full_size_alone_are_not_believed():
    assert isinstance(followed(of_width(2.0, edges=20), NOTHING, NOTHING), NotMeasured)
    assert isinstance(followed(NOTHING, NOTHING, NOTHING), NotMeasured)
    assert 4 * followed(of_width(2.0), NOTHING, NOTHING).sigma_px == pytest.approx(2.0)
    assert 4 * followed(NOTHING, NOTHING, of_width(12.0)).sigma_px == pytest.approx(12.0)


def test_noise_is_told_place_by_place_specks_included():
    rng = np.random.default_rng(2)
    picture = np.full((160, 320), 0.3, np.float32)
    picture[:, :160] += rng.normal(0, 0.01, (160, 160)).astype(np.float32)
    picture[:, 160:] += rng.normal(0, 0.04, (160, 160)).astype(np.float32)
    told = noise.local(picture)
    assert np.median(told[:, :130]) == pytest.approx(0.01, rel=0.2)
    assert np.median(told[:, 190:]) == pytest.approx(0.04, rel=0.2)
    speckled = np.full((160, 160), 0.3, np.float32)
    speckled[rng.random(speckled.shape) < 0.04] += 0.2
    assert noise.of(speckled) < 0.01  # the usual pixel has none
    assert np.median(noise.local(speckled)) > 0.01


def test_specks_are_no_edges_and_a_line_in_noise_is():
    rng = np.random.default_rng(3)
    flat = bt.noisy(np.full((120, 200), 0.3, np.float32), rng, 0.03)
    floor = noise.local(flat)
    assert len(edges.find(MeasuredRegion(flat))) > 200  # whatever is strongest
    assert len(edges.find(MeasuredRegion(flat, floor=floor))) < 20
    step = flat.copy()
    step[:, 100:] += 0.1
    found = edges.find(MeasuredRegion(step, floor=noise.local(step)))
    on_it = abs(found.place_px[:, 0] - 99.5) < 3
    assert on_it.sum() >= 20
    assert on_it.mean() > 0.7


@pytest.mark.parametrize(("shape", "width"), [("disc", 3.0), ("disc", 7.0), ("line", 10.0)])
def test_charts_in_heavy_noise(shape, width):
    """Noise a twelfth of the range: a sharp disc stays one, a smear is seen."""
    chart = bt.blurred(bt.chart(200, 4), shape, width)
    picture = bt.noisy(chart, np.random.default_rng(8), 0.06)
    within = np.ones(picture.shape, bool)
    assert blur_in_noise.is_so(MeasuredRegion(picture, within))
    assert not blur_in_noise.is_so(MeasuredRegion(chart, within))
    got = measure(picture, within)
    assert got.width_px == pytest.approx(width, rel=0.25)
    assert abs(got.width_px - width) < 2.5 * got.sd_px


@pytest.fixture(scope="module")
def dim():
    return causes(bt.FIFTH)


def test_dim_eyes_that_no_constant_was_set_on(dim):
    seen, right, _, wrong, dangerous = agreement(dim)
    assert seen >= 30
    assert right / seen >= 0.95
    assert wrong == dangerous == 0


def test_the_stated_interval_holds_there(dim):
    assert interval_held(dim) >= 0.85


def test_dim_eyes_in_soft_focus_are_never_called_sharp(dim):
    told = [v for _, true, _, _, v in dim if true > 1.2 * LIMIT_PX]
    assert told
    assert Sharpness.SHARP not in told
