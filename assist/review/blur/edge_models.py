"""What an edge looks like when it is blurred: the models that edges in a picture are held against.

A scene is taken as piecewise constant across an edge: one step, or two of opposite direction (a
lash, an eyebrow, the rim of an iris). A blur turns each step into its edge spread function. Three
shapes of blur are told apart, all scaled to one standard deviation per axis:

gauss: many small causes together. Spread function: the normal distribution.
disc: defocus, a uniform disc of diameter b; standard deviation b / 4 along any one axis. Its line
    spread function is half an ellipse.
box: steady motion along a line of length L; standard deviation L / sqrt(12) along that line.

All three are integrated over the pixel, a box one pixel wide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy.special import ndtr

Samples = NDArray[np.float32]

HALF_LENGTH_PX = 8.0
STEP_PX = 0.5
TIMES = np.arange(-HALF_LENGTH_PX, HALF_LENGTH_PX + STEP_PX / 2, STEP_PX)
"""(33,) where a profile is sampled, pixels from the edge."""

SHAPES = ("gauss", "disc", "box")
DISC_DIAMETERS = 4.0
"""Diameter of a uniform disc over its standard deviation along an axis."""
BOX_LENGTHS = math.sqrt(12.0)
"""Length of a uniform line over its standard deviation along itself."""

SIGMAS = np.geomspace(0.15, 3.8, 36)
"""(36,) standard deviations tried, pixels, the pixel's own box left out."""


def gauss_legendre(points: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Nodes and weights of Gauss and Legendre's quadrature on -1 to 1."""
    make: Any = leggauss  # untyped in some releases
    nodes, weights = make(points)
    return nodes, weights


_NODES, _WEIGHTS = gauss_legendre(5)
_FINE = 16
_EDGE = 3 * _FINE
_OFFSETS = np.arange(-1.5, 1.51, 0.25)
_FEW_OFFSETS = np.arange(-1.2, 1.21, 0.4)
_FEW_GAPS = (-8.5, -5.5, -3.5, -2.2, 2.2, 3.5, 5.5, 8.5)
_GAPS = (-9.0, -7.0, -5.5, -4.25, -3.25, -2.5, -1.9, 1.9, 2.5, 3.25, 4.25, 5.5, 7.0, 9.0)
_WINDOW_PX = 3.2
"""Samples count by a bell of this standard deviation round the edge."""


def normal_density(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Density of the standard normal distribution: the line spread function of a gauss."""
    return np.asarray(np.exp(-0.5 * x * x) / math.sqrt(2 * math.pi))


def spread(shape: str, sigma: float, t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Edge spread function at t, from 0 to 1, of a blur of that standard deviation over pixels.

    t: pixels from the step. The pixel's box is integrated by five points of Gauss and Legendre.
    """
    total = np.zeros_like(t)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        total += weight / 2 * _unsampled(shape, sigma, t + node / 2)
    return total


def _unsampled(shape: str, sigma: float, t: NDArray[np.float64]) -> NDArray[np.float64]:
    if shape == "gauss":
        return np.asarray(ndtr(t / sigma))
    if shape == "disc":
        x = np.clip(t / (DISC_DIAMETERS * sigma / 2), -1, 1)
        return np.asarray(0.5 + (x * np.sqrt(1 - x * x) + np.arcsin(x)) / math.pi)
    if shape == "box":
        return np.asarray(np.clip(t / (BOX_LENGTHS * sigma) + 0.5, 0, 1))
    raise ValueError(f"shape is one of {', '.join(SHAPES)}, not {shape!r}")


@dataclass(frozen=True)
class Dictionary:
    """Every model, as an orthonormal basis each.

    weight: (33,) square roots of the samples' weights.
    single: (shapes, sigmas, 2, offsets, 33) bases of a level and one step.
    double: (shapes, sigmas, 5, offsets x gaps, 33) bases of a level and two steps; then two rows
        whose products with a weighted profile are the heights of the steps, used to refuse two
        steps of the same direction.
    """

    weight: Samples
    single: Samples
    double: Samples


def _reading_kernel() -> NDArray[np.float64]:
    """What reading a picture between its pixels adds to an edge, on a grid of 1/16 px.

    Profiles are read by cubic convolution (Keys 1981, "Cubic convolution interpolation for digital
    image processing", IEEE Trans. ASSP 29; OpenCV takes a = -0.75). Over all places between pixels
    that is a convolution with the interpolation kernel; here its projection on the normal of an
    edge, averaged over directions. It matters only for edges sharper than about two pixels.
    """
    t = np.arange(-2.0 + 0.5 / _FINE, 2.0, 1 / _FINE)
    a, x = -0.75, np.abs(t)
    cubic = np.where(
        x <= 1,
        ((a + 2) * x - (a + 3)) * x * x + 1,
        ((a * x - 5 * a) * x + 8 * a) * x - 4 * a,
    )
    weight = cubic[:, None] * cubic[None, :]
    half = int(2.9 * _FINE)
    bins = np.arange(-half - 0.5, half + 1) / _FINE
    total = np.zeros(2 * half + 1)
    for angle in np.radians(np.arange(0.0, 46.0, 3.0)):
        place = t[:, None] * math.cos(angle) + t[None, :] * math.sin(angle)
        total += np.histogram(place, bins, weights=weight)[0]
    return np.asarray(total / total.sum())


@lru_cache(maxsize=2)
def dictionary(fine: bool = True) -> Dictionary:
    """All models, or about one in three of them for a quick look; each made once."""
    offsets = _OFFSETS if fine else _FEW_OFFSETS
    weight = np.exp(-(TIMES**2) / (4 * _WINDOW_PX**2))
    grid = np.arange(-24.0, 24.0001, 1 / _FINE)
    reading = _reading_kernel()
    gaps = np.array(_GAPS if fine else _FEW_GAPS)
    pairs = offsets.size * gaps.size
    single = np.zeros((len(SHAPES), SIGMAS.size, 2, offsets.size, TIMES.size), np.float32)
    double = np.zeros((len(SHAPES), SIGMAS.size, 5, pairs, TIMES.size), np.float32)
    for i, shape in enumerate(SHAPES):
        for j, sigma in enumerate(SIGMAS):
            curve = np.convolve(spread(shape, float(sigma), grid), reading, mode="same")
            curve[:_EDGE], curve[-_EDGE:] = 0.0, 1.0
            first = np.interp(TIMES[None] - offsets[:, None], grid, curve) * weight
            level = np.broadcast_to(weight, first.shape)
            q, _ = np.linalg.qr(np.stack([level, first], axis=-1))
            single[i, j] = np.moveaxis(q, -1, 0)
            # The gap grows with the blur: closer than that, two steps are not to be told from one.
            place = offsets[:, None] + gaps[None] * max(0.45, min(1.0, float(sigma)))
            other = np.interp(TIMES[None, None] - place[..., None], grid, curve) * weight
            columns = [
                np.broadcast_to(column[:, None], other.shape).reshape(pairs, -1)
                for column in (level, first)
            ]
            q, r = np.linalg.qr(np.stack([*columns, other.reshape(pairs, -1)], axis=-1))
            double[i, j, :3] = np.moveaxis(q, -1, 0)
            to_heights = np.linalg.inv(r + 1e-9 * np.eye(3))[:, 1:, :]
            double[i, j, 3:] = np.moveaxis(to_heights @ np.swapaxes(q, -1, -2), 1, 0)
    return Dictionary(weight.astype(np.float32), single, double)
