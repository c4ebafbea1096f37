"""The blur estimator against known kernels, ISO 12233, rendered eyes and real photographs."""

import numpy as np
import pytest
from scipy import ndimage

from assist.review.blur.edge_models import SHAPES, SIGMAS, spread
from assist.review.blur.measure import NotMeasured, measure
from assist.review.checked import Sharpness
from tests.assist import blur_truth as bt
from tests.benchmarks.review_blur import LIMIT_PX, agreement, eyes

CHART = bt.chart(320, 1)


@pytest.fixture(scope="module")
def rendered():
    return eyes()


@pytest.mark.parametrize("shape", ["gauss", "disc", "line"])
@pytest.mark.parametrize("width", [1.0, 1.5, 2.0, 4.0, 12.0])
def test_known_kernels_with_noise_within_ten_per_cent(shape, width):
    rng = np.random.default_rng(5)
    picture = bt.noisy(bt.blurred(CHART, shape, width), rng)
    assert measure(picture).width_px == pytest.approx(width, rel=0.10)


@pytest.mark.parametrize("shape", ["gauss", "disc", "line"])
@pytest.mark.parametrize("width", [1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0])
def test_known_kernels_through_jpeg_80_within_ten_per_cent(shape, width):
    rng = np.random.default_rng(6)
    noisy = bt.noisy(bt.blurred(CHART, shape, width), rng)
    picture, packed = bt.compressed(noisy)
    got = measure(picture, compression=packed)
    # At one pixel, what rounding leaves open is more (the benchmark has several charts' errors).
    assert got.width_px == pytest.approx(width, rel=0.10 if width > 1 else 0.15)


def test_a_place_that_is_sharp_by_chance_makes_no_smear():
    """Compression can leave one: through it, this disc was taken for a smear, 29 % too long."""
    noisy = bt.noisy(bt.blurred(CHART, "disc", 10.0), np.random.default_rng(1))
    got = measure(bt.through_jpeg(noisy))
    assert got.direction_deg is None
    assert got.width_px == pytest.approx(10.0, rel=0.10)


@pytest.mark.parametrize("sigma", [1.0, 4.0, 12.0])
def test_gaussians_of_one_to_twelve_pixels_standard_deviation(sigma):
    """The same kernels counted by their standard deviation, applied to pixels by SciPy."""
    base = bt.blurred(bt.chart(480, 2), "gauss", 0)
    picture = bt.through_jpeg(bt.noisy(ndimage.gaussian_filter(base, sigma),
                                       np.random.default_rng(7)))  # fmt: skip
    assert measure(picture).width_px / 4 == pytest.approx(sigma, rel=0.10)


@pytest.mark.parametrize("width", [4.0, 8.0])
def test_a_line_is_told_from_a_disc_with_its_direction(width):
    line = measure(bt.blurred(CHART, "line", width))
    assert line.direction_deg == pytest.approx(bt.LINE_DEG, abs=8)
    assert line.across_px < 0.4 * line.width_px
    length = width / 4 * np.sqrt(12)
    assert line.smear_px == pytest.approx(length, rel=0.12)
    for shape in ("disc", "gauss"):
        assert measure(bt.blurred(CHART, shape, width)).direction_deg is None


@pytest.mark.parametrize("width", [4.0, 8.0])
def test_defocus_is_told_from_a_bell(width):
    disc = measure(bt.blurred(CHART, "disc", width)).shapes
    bell = measure(bt.blurred(CHART, "gauss", width)).shapes
    assert max(disc, key=disc.get) == "disc"
    assert max(bell, key=bell.get) == "gauss"


@pytest.mark.parametrize(
    ("seed", "shape", "width"),
    [
        (13, "line", 10.0),  # full size sees three pixels along that way, and has it for sure
        (15, "line", 12.0),  # full size sees no direction at all
        (21, "line", 8.0),  # on the long ramps of full size, the edges found were 14 % too sharp
        (
            15,
            "disc",
            7.0,
        ),  # the sharpest few edges of each way alone make it a smear, 57 % too long
    ],
)
def test_what_is_smeared_most_is_not_left_out(seed, shape, width):
    got = measure(bt.blurred(bt.chart(320, seed), shape, width))
    assert got.width_px == pytest.approx(width, rel=0.06)
    assert (got.direction_deg is not None) == (shape == "line")


def test_nothing_to_measure_is_said_not_guessed():
    rng = np.random.default_rng(0)
    flat = np.full((120, 160), 0.4, np.float32)
    assert isinstance(measure(flat), NotMeasured)
    assert isinstance(measure(bt.noisy(flat, rng, 0.02)), NotMeasured)
    assert isinstance(measure(np.zeros((9, 9), np.float32)), NotMeasured)
    nowhere = np.zeros((320, 320), bool)
    assert isinstance(measure(bt.blurred(CHART, "gauss", 2), nowhere), NotMeasured)


def slanted_edge(width, size=200, fine=8, angle_deg=5.0):
    """A slanted edge as ISO 12233 asks for, blurred by a Gaussian, averaged to pixels."""
    y, x = np.mgrid[: size * fine, : size * fine] / fine
    edge = np.where(x - size / 2 - np.tan(np.radians(angle_deg)) * (y - size / 2) > 0, 0.7, 0.2)
    return bt.blurred(edge.astype(np.float32), "gauss", width, fine)


def iso_12233_sigma(picture, angle_deg=5.0):
    """Standard deviation from the slanted-edge spatial frequency response of ISO 12233.

    The method: every pixel by its distance from the edge, in bins of a quarter of a pixel (the
    super-sampled edge), its derivative, a Hamming window, the Fourier transform; then 50 % of the
    modulation. A Gaussian's response falls to half at f = sqrt(ln 2 / 2) / (pi sigma); the own
    response of bins and pixels is divided out.
    """
    rows, columns = picture.shape
    y, x = np.mgrid[:rows, :columns] + 0.5
    away = (x - columns / 2 - np.tan(np.radians(angle_deg)) * (y - rows / 2)) * np.cos(
        np.radians(angle_deg)
    )
    inside = abs(away) < 40
    bins = np.floor((away[inside] + 40) * 4).astype(int)
    total = np.bincount(bins, picture[inside].astype(float), 320)
    count = np.bincount(bins, minlength=320)
    line = np.diff(total / np.maximum(count, 1)) * np.hamming(319)
    frequency = np.fft.rfftfreq(4096, 0.25)
    response = abs(np.fft.rfft(line, 4096))
    response = (
        response / response[0] / np.maximum(np.sinc(frequency) * np.sinc(frequency / 4) ** 2, 0.05)
    )
    at = np.flatnonzero(response < 0.5)[0]
    low, high = response[at - 1], response[at]
    half = frequency[at - 1] + (low - 0.5) / (low - high) * (frequency[at] - frequency[at - 1])
    return np.sqrt(np.log(2) / 2) / (np.pi * half)


@pytest.mark.parametrize("width", [2.0, 3.0, 4.0, 6.0, 8.0])
def test_agrees_with_the_slanted_edge_of_iso_12233(width):
    """ISO 12233, Electronic still picture imaging, resolution and SFR (from memory)."""
    picture = slanted_edge(width)
    sigma = iso_12233_sigma(picture)
    assert sigma == pytest.approx(width / 4, rel=0.04)  # the standard's method on a known edge
    assert measure(picture).width_px == pytest.approx(4 * sigma, rel=0.08)


@pytest.mark.parametrize("shape", SHAPES)
def test_edge_models_have_the_width_they_say(shape):
    """The derivative of each edge model has its standard deviation (and the pixel's, added)."""
    t = np.arange(-20, 20, 0.01)
    for sigma in SIGMAS[[5, 15, 30]]:
        line = np.diff(spread(shape, sigma, t)) / 0.01
        middle = (t[1:] + t[:-1]) / 2
        mean = (line * middle).sum() * 0.01
        variance = (line * (middle - mean) ** 2).sum() * 0.01
        assert line.sum() * 0.01 == pytest.approx(1, abs=1e-3)
        assert variance == pytest.approx(sigma**2 + 1 / 12, rel=0.02)


def test_rendered_eyes_agree_with_the_lens_formula(rendered):
    """A ray tracer's thin-lens camera: the verdict against b(z), 15 % round the limit left out."""
    seen, right, _, _, dangerous = agreement(rendered)
    assert seen >= 40
    assert right / seen >= 0.95
    assert dangerous == 0


def test_rendered_eyes_width(rendered):
    near = [(t, m) for _, t, m, _, _ in rendered if 0.5 * LIMIT_PX < t < 2 * LIMIT_PX]
    error = np.array([m / t - 1 for t, m in near])
    assert abs(np.median(error)) < 0.08
    assert np.quantile(abs(error), 0.9) < 0.20


@pytest.mark.parametrize("factor", [0.5, 0.75, 1.5])
def test_rendered_eyes_agree_at_other_limits(rendered, factor):
    """The criterion is a choice; the agreement must not hang on one."""
    from assist.review.blur.measure import Blur
    from assist.review.diagnosis import verdict_of

    limit = factor * LIMIT_PX
    rows = [
        (n, t, m, s, verdict_of(Blur(m, s, m, None, {}, 50), limit, 1.45 * limit)[0])
        for n, t, m, s, _ in rendered
    ]
    seen, right, _, wrong, dangerous = agreement(rows, limit)
    assert right / seen >= 0.9
    assert wrong / seen <= 0.05
    assert dangerous == 0


def test_real_photographs_get_wider_with_every_blur():
    """Photographs that scikit-image and matplotlib carry: a sanity check, not a truth."""
    for name, picture in bt.photographs():
        own = measure(picture)
        assert own.width_px < 3.5, name
        widths = [
            measure(ndimage.gaussian_filter(picture, width / 4)).width_px for width in (4, 6, 9)
        ]
        assert own.width_px < widths[0] < widths[1] < widths[2], name
        for width, got in zip((4, 6, 9), widths, strict=True):
            assert got == pytest.approx(np.hypot(width, own.across_px), rel=0.25), name


def test_sure_is_sharp_only_with_most_of_the_belief_within_the_limit():
    from assist.review.blur.measure import Blur
    from assist.review.diagnosis import verdict_of

    def said(width, sd=0.4):
        return verdict_of(Blur(width, sd, width, None, {}, 50), 4.8, 7.0)[0]

    assert said(3.0) is Sharpness.SHARP
    assert said(4.75) is Sharpness.NOT_SURE
    assert said(5.5) is Sharpness.ACCEPTABLE
    assert said(9.0) is Sharpness.SOFT
    assert said(4.0, sd=3.0) is Sharpness.NOT_SURE
