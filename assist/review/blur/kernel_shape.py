"""Which shape a blur has: bell, disc or line.

On the pyramid it is told from how well each shape's models fit all the edges together (`belief`).
At full size it is told from the pixels themselves (`told`): every edge is drawn anew with each
shape, goes through the picture's compression, and what differs from the picture is compared. A
blur may also lie between two shapes: what is told is how much of each to expect.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from assist.review.blur import (
    drawn_edges,
    gaussian_bias,
    pixel_fit,
)
from assist.review.blur.drawn_edges import Steps
from assist.review.blur.edge_models import SHAPES
from assist.review.blur.region import MeasuredRegion

Array = NDArray[np.float64]

_SOFT_TIMES, _SOFT_PX2 = 1.6, 0.1
"""An edge this much wider than the sharper ones is soft by itself, and has its own shape."""
_SHARPER = 0.4
_LEAST_VARIANCE, _LARGEST_VARIANCE = 0.04, 6.0
_REACH_PX, _REACH_SIGMAS = 1.0, 2.6
_LEAST_REACH_PX, _LARGEST_REACH_PX = 3.1, 5.0
"""How far across an edge it is compared: to where a disc ends, and a little more."""
_LEAST_NOISE = 0.2
"""No edge counts for more than with this part of the usual error."""
_REPEATED = 4.0
"""Neighbouring edges repeat each other: about one in four counts as a new witness."""
_PATH = np.linspace(0.0, 2.0, 41)
"""From a bell by a disc to a line; between two of them, in parts."""
_BETWEEN = 0.25
"""Chance beforehand that a blur is between two shapes; otherwise it is one of the three."""
_SURER, _LEAST_ERROR = 12.0, 0.1
"""How many times less the pixels tell than if the error of each were its own, and the least error
of the place on the way from a bell to a disc, as its scatter over charts of known blur has them:
what lies beside an edge in its square of a compression is not drawn with it."""


def belief(misfit: Array) -> Array:
    """Belief in each shape, from (shapes, n) misfits."""
    score = np.log(np.maximum(misfit, 1e-4))
    centred = score - score.mean(axis=0)
    mean = centred.mean(axis=1)
    error = np.maximum(centred.std(axis=1) / math.sqrt(max(misfit.shape[1] / _REPEATED, 1.0)), 0.01)
    share = np.exp(-(mean - mean.min()) / error.mean())
    return np.asarray(share / share.sum())


def told(region: MeasuredRegion, steps: Steps, variance_px2: Array) -> Array:
    """Share of each shape in the blur of a region's fitted edges.

    variance_px2: (n,) of the bells that fit them, without the compression's part.
    """
    usual = float(np.quantile(variance_px2, _SHARPER))
    kept = np.flatnonzero(variance_px2 < _SOFT_TIMES * max(usual, 0.0) + _SOFT_PX2)
    steps = steps.of(kept)
    variance = np.clip(variance_px2[kept], _LEAST_VARIANCE, _LARGEST_VARIANCE)
    patches = drawn_edges.Patches(region.image, steps, region.compression)
    unlike = []
    for shape in SHAPES:
        sigma = np.sqrt(gaussian_bias.without_shape(shape, variance))
        unlike.append(patches.own - patches.among(sigma, shape))
    reach = _REACH_PX + _REACH_SIGMAS * math.sqrt(max(usual, 0.0))
    reach = min(max(reach, _LEAST_REACH_PX), _LARGEST_REACH_PX)
    products, free = pixel_fit.remainders(
        patches.own, unlike, patches.places, variance, steps.gap_px, reach
    )
    error = np.einsum("nss->ns", products).min(axis=1) / free
    high = steps.height**2
    weight = 1 / np.maximum(error, _LEAST_NOISE * float(np.median(error / high)) * high)
    together = (products * weight[:, None, None]).sum(axis=0)
    apart = np.array([1.0, -1.0, 0.0])
    return _shares(together / max(_SURER, _LEAST_ERROR**2 * float(apart @ together @ apart)))


def _shares(square: Array) -> Array:
    """Expected shares, where shares leave over the half of a square form of them."""
    shares = np.maximum(1 - abs(_PATH[:, None] - np.arange(len(SHAPES))), 0)
    prior = np.where(_PATH % 1 == 0, (1 - _BETWEEN) / len(SHAPES), _BETWEEN / _PATH.size)
    left = np.einsum("ps,st,pt->p", shares, square, shares)
    chance = prior * np.exp(-0.5 * (left - left.min()))
    return np.asarray(chance @ shares / chance.sum())
