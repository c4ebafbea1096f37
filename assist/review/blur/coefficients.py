"""Edges fitted to the coefficients that a compression left of them.

In a picture's pixels a JPEG's errors are anything but even: the coarse coefficients of a square are
known almost exactly, the fine ones to half a large step, and what was rounded to nothing tells
nothing. So here every edge is compared with the coefficients of the squares round it, each counting
as much as it tells: one step of Gauss and Newton from where the edge is thought to be, towards
what is most likely, with the rounding in between (what comes back is expected as the average over
the noise, which makes it fall either way). For edges that are a pixel wide this halves the error
of fitting to the pixels.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.review.blur import compression as compressions
from assist.review.blur import pixel_fit
from assist.review.blur.compression import MIDDLE, SIDE, Compression
from assist.review.blur.drawn_edges import CURVE, Steps, looked_up
from assist.review.blur.edges import GrayImage

Array = NDArray[np.float64]

_PATCH = 2 * SIDE
"""Pixels along a side of a patch: the four squares nearest to a place."""
_NOISE, _UNKNOWN = 2.5, 15.0
"""Standard deviations in 8-bit values: of the noise in a picture before it was compressed, and of
what is not known of the picture where something else than the edge is."""
_UNLIKE, _UNLIKE_PART = 4.0, 0.1
"""Where the picture differs by more than about this from what is drawn, in 8-bit values and as a
part of the step (what rounding leaves grows with it), something else is there."""
_LEAST_VARIANCE_OF_ONE = 6.0
"""No coefficient is told better than with this variance, in squares of 8-bit values: an edge is no
exact bell, and the picture was rounded to whole values too."""
_FARTHEST = 2.0
"""A coefficient that is farther off than this many times its error counts as so far off."""
_LEAST_MISFIT = 0.5
"""An edge's error is as its coefficients fit, but few of them may fit well by chance."""
_DAMPING = 1e-4
_LEAST_VARIANCE, _LARGEST_VARIANCE = 0.015, 6.0
_LIMITS = np.array([0.06, 0.2, 0.2, 0.2, 0.05, 0.05, 0.05])
"""How far a step may go: angle, offset, gap, variance, low, height, second."""
_VARIANCE = 3
_SLOPE = np.gradient(CURVE, 1 / (CURVE.size - 1))


@dataclass(frozen=True, slots=True)
class Refined:
    """Steps (n) with the variances of their blur, as of `pixel_fit.FineFits`.

    misfit: how far the coefficients that tell the variance are off, in their errors.
    """

    steps: Steps
    variance_px2: Array
    error_px2: Array
    misfit: Array


def refined(image: GrayImage, steps: Steps, variance_px2: Array, told: Compression) -> Refined:
    """One step from steps of these variances towards what is most likely.

    variance_px2: (n,), best what all edges together say of each.
    """
    n = steps.angle.size
    variance = np.clip(variance_px2, _LEAST_VARIANCE, _LARGEST_VARIANCE)
    light, slopes = _drawn(steps, variance, told)
    seen = looked_up(CURVE, _patches(image, steps, told))
    luma = looked_up(CURVE, light)
    alike = np.exp(-0.5 * ((seen - luma) / _tolerance(steps)[:, None]) ** 4)
    thought = alike * luma + (1 - alike) * seen
    slopes *= (alike * looked_up(_SLOPE, light))[..., None]
    unknown = _squares(1 - alike[..., None])[..., 0].mean(axis=2)
    noise = np.sqrt(_NOISE**2 + _UNKNOWN**2 * unknown)[..., None]
    step = told.steps.ravel()
    both = compressions.transformed(_squares(np.stack([thought, seen], axis=-1) - MIDDLE))
    expected, falls, scatter = compressions.expected(both[..., 0] / step, noise / step)
    columns = compressions.transformed(_squares(slopes)) * falls[..., None]
    error = np.sqrt(scatter * step**2 + _LEAST_VARIANCE_OF_ONE)
    off = np.clip((both[..., 1] - expected * step) / error, -_FARTHEST, _FARTHEST)
    columns = (columns / error[..., None]).reshape(n, -1, _LIMITS.size)
    turned = np.swapaxes(columns, 1, 2)
    square, right = turned @ columns, (turned @ off.reshape(n, -1, 1))[..., 0]
    scale = np.sqrt(np.maximum(np.einsum("nii->ni", square), 1e-12))
    square = square / scale[:, :, None] / scale[:, None, :] + _DAMPING * np.eye(_LIMITS.size)
    inverse = np.linalg.inv(square)
    change = (inverse @ (right / scale)[..., None])[..., 0] / scale
    left = off.reshape(n, -1) - (columns @ change[..., None])[..., 0]
    telling = columns[..., _VARIANCE] ** 2
    misfit = np.sqrt((telling * left**2).sum(axis=1) / np.maximum(telling.sum(axis=1), 1e-12))
    change = np.clip(change, -_LIMITS, _LIMITS)
    across = np.stack([np.cos(steps.angle), np.sin(steps.angle)], axis=1)
    better = Steps(
        steps.place_px + change[:, 1:2] * across,
        steps.angle + change[:, 0],
        steps.low + change[:, 4],
        steps.height + change[:, 5],
        steps.gap_px + change[:, 2],
        steps.second + change[:, 6],
    )
    error_px2 = np.sqrt(inverse[:, _VARIANCE, _VARIANCE]) / scale[:, _VARIANCE]
    error_px2 *= np.hypot(misfit, _LEAST_MISFIT)
    return Refined(better, variance + change[:, _VARIANCE], error_px2, misfit)


def _tolerance(steps: Steps) -> Array:
    """(n,) how far the picture may be from what is drawn, in 8-bit values."""
    ends = np.clip(np.stack([steps.low, steps.low + steps.height]), 0.0, 1.0)
    low, high = looked_up(CURVE, ends)
    return np.asarray(np.hypot(_UNLIKE, _UNLIKE_PART * (high - low)))


def _corners(steps: Steps, told: Compression) -> NDArray[np.int64]:
    """(n, 2) where the four squares nearest to each step begin."""
    begin = np.array([told.left, told.top])
    nearest = np.floor((steps.place_px + 0.5 - begin) / SIDE - 0.5)
    return np.asarray(nearest.astype(np.int64) * SIDE + begin)


def _patches(image: GrayImage, steps: Steps, told: Compression) -> Array:
    """(n, pixels) of the picture."""
    corner = _corners(steps, told)
    padded = cv2.copyMakeBorder(image, *(_PATCH,) * 4, cv2.BORDER_REFLECT_101)
    span = np.arange(_PATCH) + _PATCH
    rows = corner[:, 1, None, None] + span[:, None]
    columns = corner[:, 0, None, None] + span[None, :]
    return padded[rows, columns].astype(np.float64).reshape(len(corner), -1)


def _drawn(steps: Steps, variance: Array, told: Compression) -> tuple[Array, Array]:
    """(n, pixels) each step alone in linear light, and its slopes by all parameters."""
    inside = steps.place_px - _corners(steps, told)
    span = np.arange(_PATCH)
    x = np.tile(span, _PATCH)[None] - inside[:, :1]
    y = np.repeat(span, _PATCH)[None] - inside[:, 1:]
    cos, sin = np.cos(steps.angle)[:, None], np.sin(steps.angle)[:, None]
    t, aside = x * cos + y * sin, y * cos - x * sin
    sigma = np.sqrt(variance)[:, None]
    edge, line, bend = pixel_fit.drawn(t, sigma, cos, sin)
    low, high = steps.low[:, None], steps.height[:, None]
    light = low + high * edge
    across, wider = high * line, 0.5 * high * bend
    slopes = np.zeros((*t.shape, _LIMITS.size))
    more = np.flatnonzero(steps.second)
    if more.size:
        gap, second = steps.gap_px[more, None], steps.second[more, None]
        edge_2, line_2, bend_2 = pixel_fit.drawn(t[more] - gap, sigma[more], cos[more], sin[more])
        light[more] += second * edge_2
        across[more] += second * line_2
        wider[more] += 0.5 * second * bend_2
        slopes[more, :, 2] = -second * line_2
        slopes[more, :, 6] = edge_2
    slopes[..., 0], slopes[..., 1] = across * aside, -across
    slopes[..., 3], slopes[..., 4], slopes[..., 5] = wider, 1.0, edge
    return np.clip(light, 0.0, 1.0), slopes


def _squares(patches: Array) -> Array:
    """(n, 4, 64, k) the squares of (n, pixels, k) patches."""
    n, _, k = patches.shape
    apart = patches.reshape(n, 2, SIDE, 2, SIDE, k).swapaxes(2, 3)
    return apart.reshape(n, 4, SIDE * SIDE, k)
