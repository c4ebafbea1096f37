"""Edges held against the coefficients that a JPEG kept of them."""

import numpy as np
import pytest
from scipy import ndimage

from assist.review.blur import coefficients, compression, pixel_fit
from assist.review.blur.drawn_edges import Steps
from assist.review.blur.edges import Edges
from tests.assist import blur_truth as bt

TILE, ACROSS = 24, 12
VARIANCE_PX2 = 0.0625


@pytest.mark.parametrize("noise", [0.15, 0.6])
def test_the_rounded_average_its_slope_and_its_scatter(noise):
    value = np.linspace(-2.3, 2.3, 24)
    mean, slope, variance = compression.expected(value, np.array(noise))
    drawn = value + np.random.default_rng(0).normal(0, noise, (200_000, 1))
    rounded = np.rint(drawn)
    assert mean == pytest.approx(rounded.mean(axis=0), abs=0.01)
    assert variance == pytest.approx(rounded.var(axis=0), abs=0.01)
    ahead, *_ = compression.expected(value + 1e-3, np.array(noise))
    behind, *_ = compression.expected(value - 1e-3, np.array(noise))
    assert slope == pytest.approx((ahead - behind) / 2e-3, abs=0.01)


def test_coefficients_are_those_of_the_cosine_transform():
    rng = np.random.default_rng(1)
    square = rng.uniform(-128, 127, (8, 8))
    found = compression.transformed(square.reshape(1, 1, 64, 1))
    k, x = np.mgrid[:8, :8]
    rows = np.cos(np.pi * (2 * x + 1) * k / 16) / 2
    rows[0] /= np.sqrt(2)
    assert found.reshape(8, 8) == pytest.approx(rows @ square @ rows.T)


def half_planes(rng):
    """Tiles of a step each, blurred by a bell, and where their edges are."""
    angle = rng.uniform(0, 2 * np.pi, ACROSS**2)
    inside = rng.uniform(8, 16, (ACROSS**2, 2))
    low, height = rng.uniform(0.05, 0.3, ACROSS**2), rng.uniform(0.3, 0.6, ACROSS**2)
    number = np.arange(ACROSS**2)
    place = inside + TILE * np.stack([number % ACROSS, number // ACROSS], axis=1)
    y, x = (np.mgrid[: TILE * bt.FINE, : TILE * bt.FINE] + 0.5) / bt.FINE - 0.5
    picture = np.empty((ACROSS * TILE,) * 2, np.float32)
    for k in number:
        across = (x - inside[k, 0]) * np.cos(angle[k]) + (y - inside[k, 1]) * np.sin(angle[k])
        fine = low[k] + height[k] * (across > 0)
        fine = ndimage.gaussian_filter(fine, np.sqrt(VARIANCE_PX2) * bt.FINE, mode="nearest")
        row, column = TILE * (k // ACROSS), TILE * (k % ACROSS)
        tile = fine.reshape(TILE, bt.FINE, TILE, bt.FINE).mean(axis=(1, 3))
        picture[row : row + TILE, column : column + TILE] = tile
    return picture, Edges(place, np.stack([np.cos(angle), np.sin(angle)], axis=1), height)


def test_they_tell_the_width_of_an_edge_better_than_its_pixels():
    rng = np.random.default_rng(2)
    picture, edges = half_planes(rng)
    packed, told = bt.compressed(bt.noisy(picture, rng))
    fits = pixel_fit.fit(packed, edges)
    steps = Steps(
        edges.place_px + fits.offset_px[:, None] * edges.normal,
        fits.angle,
        fits.low,
        fits.height,
        *(np.zeros(len(edges)) for _ in range(2)),
    )
    # From what is thought of all of them: too wide.
    thought = np.full(len(edges), 0.1)
    found = coefficients.refined(packed, steps, thought, told)
    found = coefficients.refined(packed, found.steps, thought, told)
    off = found.variance_px2 - VARIANCE_PX2
    by_pixels = fits.variance_px2 - np.median(fits.variance_px2)
    assert abs(np.median(off)) < 0.01
    assert np.median(abs(off)) < 0.6 * np.median(abs(by_pixels))
    # Their errors are about as they say.
    assert 0.4 < 1.48 * np.median(abs(off) / found.error_px2) < 1.5
