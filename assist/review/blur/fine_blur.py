"""Blur of less than about four pixels, where pixels and compression are as large as the blur.

Every edge is fitted to the pixels themselves (`pixel_fit`); what a JPEG's compression added to it
is taken off (`drawn_edges`), where the file tells how it was compressed; and the blur is what the
sharpest of them agree on (`sharpest_edges`), as an ellipse: the variance may depend on the
direction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assist.base.words import N_
from assist.review.blur import (
    drawn_edges,
    edges,
    gaussian_bias,
    kernel_shape,
    noise,
    pixel_fit,
    sharpest_edges,
)
from assist.review.blur.edge_models import SHAPES
from assist.review.blur.edges import Edges
from assist.review.blur.ellipse import Ellipse, terms_at
from assist.review.blur.estimate import Estimate, NotMeasured
from assist.review.blur.region import MeasuredRegion

_LEAST_EDGES = 12
_WORST_MISFIT = 0.2
_LEAST_CONTRAST = 0.12
_LARGEST_VARIANCE = 6.0
_PLAINLY_WIDE = 3.0
_ERROR_GROWS_PX2 = 0.15
"""The error of a fitted variance grows about as the variance plus this (exact edges, noise)."""
_MODEL_ERROR_PX2, _MODEL_ERROR = 0.01, 0.03
"""What is left of error where nothing disturbs, absolute and relative: an edge is no exact bell. On
exact edges of discs and lines, over angles and places in a pixel, the standard deviation is 0.006
to 0.024; charts without noise, whose edges bend and end, need this."""
_SHAPE_FROM = 0.68
"""Standard deviation, pixels, from which the shape of a blur is to be seen."""
_LEAST_TRUE = 0.04
"""Variance, square pixels: an edge that happened to be found sharper was not."""
_ADDED_WITHIN = (-0.3, 0.5)
"""What a compression may add to a variance; beyond, its own fit went astray."""
_CELL_PX = 12
_LEAST_RATIO = 1.25
_DIRECTION_TIMES = 3.5
_ROUND = 1e-4
"""How firmly a blur is thought to have no direction: edges that face one way only do not tell how
much of their variance a direction makes, and it counts as that of the whole."""


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """Edges that stand out and fit, one line each; fields as in `pixel_fit.FineFits`."""

    edges: Edges
    variance_px2: NDArray[np.float64]
    error_px2: NDArray[np.float64]
    angle: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Drawable(Fitted):
    """The same as steps that can be drawn anew."""

    steps: drawn_edges.Steps


def fitted(region: MeasuredRegion) -> Drawable | NotMeasured:
    """The clear edges among the strongest of a region, fitted.

    What its compression added to the variances is taken off.
    """
    found = edges.find(region)
    if len(found) < _LEAST_EDGES:
        return NotMeasured(N_("too few edges to measure on"))
    fits = pixel_fit.fit(region.image, found)
    strong = fits.height >= noise.least_step(region, _LEAST_CONTRAST)
    if region.floor is not None:
        strong &= noise.stands_out(fits.height, found.place_px, region.floor)
    if strong.sum() < _LEAST_EDGES:
        return NotMeasured(N_("too little contrast above the noise"))
    good = strong & (fits.misfit <= _WORST_MISFIT)
    if good.sum() < _LEAST_EDGES:
        return NotMeasured(N_("too few clear edges to measure on"))
    kept = Edges(found.place_px[good], found.normal[good], found.strength[good])
    variance, error, angle = fits.variance_px2[good], fits.error_px2[good], fits.angle[good]
    steps = drawn_edges.Steps(
        kept.place_px
        + fits.offset_px[good, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1),
        angle,
        fits.low[good],
        fits.height[good],
        fits.gap_px[good],
        fits.second[good],
    )
    if region.compression is None:
        return Drawable(kept, variance, error, angle, steps)
    true = np.clip(variance, _LEAST_TRUE, _LARGEST_VARIANCE)
    patches = drawn_edges.Patches(region.image, steps, region.compression)
    again = pixel_fit.fit(patches.alone(np.sqrt(true)), patches.places, true, steps.gap_px)
    added = again.variance_px2 - true
    variance = variance - np.clip(added, *_ADDED_WITHIN)
    return Drawable(kept, variance, error, angle, steps)


def estimate(region: MeasuredRegion, clear: Drawable, shape: bool) -> Estimate | NotMeasured:
    """Blur of a region at full size, by its clear edges.

    Believe it up to about a pixel of standard deviation, not above.

    shape: whether to look for the shape of the blur, which is to be seen from 2.7 px of width on.
    """
    good = clear.variance_px2 < _LARGEST_VARIANCE
    if good.sum() < _LEAST_EDGES:
        return NotMeasured(N_("too few sharp edges to measure on"))
    if np.quantile(clear.variance_px2, 0.2) > _PLAINLY_WIDE:
        return NotMeasured(N_("too wide a blur to be measured at full size"))
    kept = Edges(clear.edges.place_px[good], clear.edges.normal[good], clear.edges.strength[good])
    variance, angle = clear.variance_px2[good], clear.angle[good]
    agreed = _agreed(variance, clear.error_px2[good], angle, kept.place_px)
    found = Ellipse.of_terms(agreed.answer)
    middle, swing = found.middle_px2, found.swing_px2
    jitter = float(np.trace(agreed.covariance[1:, 1:]))
    # A direction that is only noise still has a length: taken off, as Stein's estimator does, and
    # as firmly as Akaike's criterion asks of two more parameters (1974, from memory).
    kept_part = max(0.0, 1 - 2 * jitter / max(swing**2, 1e-12))
    axis = np.array([1.0, *(kept_part * agreed.answer[1:] / max(swing, 1e-9))])
    sd = math.sqrt(max(float(axis @ agreed.covariance @ axis), 1e-8))
    high, low = middle + kept_part * swing, middle - kept_part * swing
    sure = swing > _DIRECTION_TIMES * math.sqrt(jitter / 2)
    directed = sure and high > _LEAST_RATIO**2 * max(low, 0.0)
    seen = shape and high > _SHAPE_FROM**2
    weights = np.full(len(SHAPES), 1 / len(SHAPES))
    if seen:
        weights = kernel_shape.told(region, clear.steps.of(good), variance)
    beliefs = dict(zip(SHAPES, (float(w) for w in weights), strict=True))
    long = math.sqrt(gaussian_bias.believed(high, beliefs))
    short = math.sqrt(gaussian_bias.believed(low, beliefs)) if directed else long
    spread = sd / (2 * max(high, sd))
    pooled = math.sqrt(gaussian_bias.believed(middle, beliefs))
    return Estimate(
        long, short, found.angle if directed else None, pooled, spread, beliefs, len(kept), seen
    )


def _agreed(
    variance: NDArray[np.float64],
    error: NDArray[np.float64],
    angle: NDArray[np.float64],
    place_px: NDArray[np.float64],
) -> sharpest_edges.Agreed:
    """What edges agree on, as an ellipse."""
    _, group = np.unique(
        np.floor(place_px / _CELL_PX).astype(np.int64), axis=0, return_inverse=True
    )
    lean = np.array([0.0, _ROUND, _ROUND])
    return sharpest_edges.agree(
        variance, _even(error, variance), terms_at(angle), group.ravel(), lean
    )


def _even(error: NDArray[np.float64], variance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Errors half as they are and half as they would be if all edges were blurred alike.

    An edge that happened to be found sharper also states a smaller error: weighed by that, the
    average would lean to the sharper ones.
    """
    error = np.hypot(error, _MODEL_ERROR_PX2 + _MODEL_ERROR * np.maximum(variance, 0.0))
    usual = max(float(np.median(variance)), 0.0)
    grown = (np.maximum(variance, 0.0) + _ERROR_GROWS_PX2) / (usual + _ERROR_GROWS_PX2)
    alike = error / np.sqrt(grown)
    return np.asarray(np.hypot(alike, 0.3 * np.median(alike)))
