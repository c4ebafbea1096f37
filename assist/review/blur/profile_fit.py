"""Edges held against the models: the width of each under each shape of blur, all at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assist.review.blur.edge_models import SHAPES, SIGMAS, Samples, dictionary

_SECOND_STEP_PAYS = 0.6
"""A second step is believed only where it takes away this much of what one step leaves over."""


@dataclass(frozen=True, slots=True)
class EdgeFits:
    """What fits each edge best, for each shape of blur.

    sigma_px: (shapes, n) standard deviation of the blur, the pixel's own box left out.
    misfit: (shapes, n) what the model leaves over, as a part of the profile's own variation.
    height: (n,) variation of the profile under the window, in units of luminance.
    """

    sigma_px: NDArray[np.float64]
    misfit: NDArray[np.float64]
    height: NDArray[np.float64]


def fit(profiles: Samples, fine: bool = True) -> EdgeFits:
    """Fit (n, 33) profiles; n may be zero.

    With (shapes, n, 33) of them, each shape is held against its own; heights are of the first.
    """
    models = dictionary(fine)
    each = [_weighted(own, models.weight) for own in profiles.reshape(-1, *profiles.shape[-2:])]
    each *= len(SHAPES) // len(each)
    count = profiles.shape[-2]
    sigma = np.zeros((len(SHAPES), count))
    misfit = np.zeros((len(SHAPES), count))
    one = np.empty((SIGMAS.size, count), np.float32)
    two = np.empty((SIGMAS.size, count), np.float32)
    length = profiles.shape[-1]
    for i, (weighted, energy) in enumerate(each):
        for j in range(SIGMAS.size):
            level, step = (models.single[i, j].reshape(-1, length) @ weighted).reshape(2, -1, count)
            one[j] = energy - (level * level + step * step).max(axis=0)
            level, step, other, first, second = (
                models.double[i, j].reshape(-1, length) @ weighted
            ).reshape(5, -1, count)
            explained = level * level + step * step + other * other
            explained[first * second >= 0] = 0.0
            two[j] = energy - explained.max(axis=0)
        sigma_one, left_one = _lowest(one)
        sigma_two, left_two = _lowest(two)
        pays = left_two < _SECOND_STEP_PAYS * left_one
        sigma[i] = np.where(pays, sigma_two, sigma_one)
        misfit[i] = np.sqrt(np.maximum(np.where(pays, left_two, left_one), 0) / energy)
    return EdgeFits(sigma, misfit, np.sqrt(each[0][1] / (models.weight**2).sum()))


def _weighted(profiles: Samples, weight: Samples) -> tuple[Samples, Samples]:
    """(33, n) profiles under the window without their level, and (n,) what is in each."""
    # An overall level is in every model: taking it out first keeps single precision enough.
    weight_sq = weight**2
    centred = profiles - (profiles @ weight_sq / weight_sq.sum())[:, None]
    weighted = (centred * weight).T.copy()
    return weighted, np.maximum((weighted**2).sum(axis=0), 1e-20)


def _lowest(left: Samples) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Width at the lowest remainder, between the widths tried by a parabola in its logarithm."""
    best = left.argmin(axis=0)
    at = np.arange(left.shape[1])
    inner = np.clip(best, 1, SIGMAS.size - 2)
    low, mid, high = (left[inner + k, at].astype(np.float64) for k in (-1, 0, 1))
    bend = low - 2 * mid + high
    shift = np.where(bend > 0, (low - high) / np.where(bend > 0, 2 * bend, 1.0), 0.0)
    shift = np.where(best == inner, np.clip(shift, -0.5, 0.5), 0.0)
    ratio = SIGMAS[1] / SIGMAS[0]
    return SIGMAS[best] * ratio**shift, left[best, at].astype(np.float64)
