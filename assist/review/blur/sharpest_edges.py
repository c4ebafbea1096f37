"""What the sharpest among many edges agree on, when each is measured with an error.

An edge in the scene may be soft by itself, and compression only widens it: what is measured is the
blur, plus a softness that is never negative, plus an error of known size. Taking the least of many
would take the luckiest error; taking the middle would take the usual softness. Here the softness is
a mixture of exponential distributions, and blur and mixture are found together by expectation and
maximization (Dempster, Laird and Rubin 1977, Journal of the Royal Statistical Society B 39, from
memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

Array = NDArray[np.float64]

_SOFTNESSES = (4.0, 12.0, 30.0)
"""Means of the exponential parts, in typical errors; less is not to be told from error: with parts
of one or two errors, the charts come out too sharp through a compression."""
_ROUNDS = 60
_LOG_ROOT_TAU = 0.5 * np.log(2 * np.pi)


@dataclass(frozen=True, slots=True)
class Agreed:
    """Coefficients (k,) without softness, and their covariance (k, k)."""

    answer: Array
    covariance: Array


def agree(
    value: Array,
    error: Array,
    design: Array,
    group: NDArray[np.int64],
    lean: Array | None = None,
) -> Agreed:
    """Coefficients of `design` (n, k) that give the part of `value` (n,) without softness.

    error: (n,) standard deviation of each value.   group: (n,) values of one group repeat each
    other: together they count as one witness.   lean: (k,) how firmly each coefficient is thought
    to be 0 beforehand, as a part of the weight of all values; without it, not at all. Coefficients
    that the values do not tell apart fall to those that are not.
    """
    means = np.array(_SOFTNESSES) * float(np.median(error))
    share = np.full(means.size + 1, 1 / (means.size + 1))
    answer = np.zeros(design.shape[1])
    answer[0] = np.quantile(value, 0.3)
    precision = 1 / error**2
    weighted = design * precision[:, None]
    prior = np.diag(np.zeros(design.shape[1]) if lean is None else lean)
    normal = weighted.T @ design + precision.sum() * prior
    normal += 1e-9 * np.trace(normal) * np.eye(len(normal))
    scaled = (error[:, None] / means[None]).T
    log_p = np.empty((share.size, value.size))
    over = expected = spread = np.zeros_like(value)
    for _ in range(_ROUNDS):
        over = value - design @ answer
        z = over / error
        log_p[0] = -0.5 * z * z - np.log(error) - _LOG_ROOT_TAU
        # Given that it belongs to a part, softness is a normal cut off below zero.
        middle = z[None] - scaled
        tail = log_ndtr(middle)
        log_p[1:] = 0.5 * scaled**2 - scaled * z[None] + tail - np.log(means)[:, None]
        log_p += np.log(np.maximum(share, 1e-12))[:, None]
        belief = np.exp(log_p - log_p.max(axis=0))
        belief /= belief.sum(axis=0)
        ratio = np.exp(-0.5 * middle**2 - _LOG_ROOT_TAU - tail)
        soft = error[None] * (middle + ratio)
        expected = (belief[1:] * soft).sum(axis=0)
        spread = (belief[1:] * (error[None] ** 2 * (1 - middle * ratio - ratio**2) + soft**2)).sum(
            axis=0
        ) - expected**2
        share = belief.mean(axis=1)
        change = np.linalg.solve(normal, weighted.T @ (value - expected)) - answer
        answer = answer + change
        if abs(change).max() < 1e-3 * math.sqrt(1 / precision.sum()):
            break
    # The sandwich of White 1982 (Econometrica 50, from memory), groups as witnesses. What is not
    # known of a value's own softness tells that much less of the blur.
    informed = precision * np.clip(1 - spread * precision, 0.02, 1)
    bread = np.linalg.pinv((design * informed[:, None]).T @ design + informed.sum() * prior)
    scores = weighted * (over - expected)[:, None]
    sums = np.zeros((int(group.max()) + 1, design.shape[1]))
    np.add.at(sums, group, scores)
    return Agreed(answer, bread @ (sums.T @ sums) @ bread)
