"""One distance from several cues whose errors are not independent.

Cues that read the same landmarks tell the same thing twice: their mean is no better than the best
of them, and two that agree may be wrong together. So the answer comes from one landmark cue, the
one that uses most of the picture, and from the face or head, which rest on another size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assist.distance import CueReading
from optics.checks import FloatArray

SHARED = 0.3
"""Correlation of the own errors of two sources: both take the posture from the same network."""
_OUTLIER = 4.0


@dataclass(frozen=True, slots=True)
class Fused:
    """The fused depth of the eyes, and the sources that took part.

    own_sd_m: standard deviation of what varies from picture to picture.   common_sd_m: of what is
    the same in all of them, the sizes that the sources rest on.
    """

    eyes_m: float
    own_sd_m: float
    common_sd_m: float
    used: tuple[str, ...]

    @property
    def sd_m(self) -> float:
        """Both together."""
        return math.hypot(self.own_sd_m, self.common_sd_m)


def fuse(sources: Sequence[CueReading], sizes: FloatArray) -> Fused:
    """Best linear unbiased estimate from the sources.

    sizes: (3, 3) covariance of the relative errors of the sizes, in the order of `Size`.

    With s_i a source's own standard deviation and P the covariance of the sizes, two sources'
    errors have the covariance r_ij s_i s_j + z_i z_j P_ij, r_ii = 1 and else SHARED; the weights
    are those of least variance, none negative. Disagreement adds sum_i w_i ((z_i - z)^2 - v_i) to
    the own variance, over the sources that are farther off than their variance v_i says.
    A source more than 4 standard deviations from the surest does not move the answer; one of the
    two is wrong, and which of them nobody knows, so it widens it like the others.
    Raises ValueError when there is no source.
    """
    if not sources:
        raise ValueError("no cue to fuse")
    depth = np.array([r.eyes_m for r in sources])
    own = np.array([r.own_sd_m for r in sources])
    rests_on = [int(r.size) for r in sources]
    common = depth[:, None] * depth * sizes[np.ix_(rests_on, rests_on)]
    own_covariance = own[:, None] * own * np.where(np.eye(len(own), dtype=bool), 1.0, SHARED)
    variance = own**2 + np.diag(common)
    surest = int(np.argmin(variance))
    reach = _OUTLIER * np.sqrt(variance + variance[surest])
    kept = np.abs(depth - depth[surest]) <= reach
    weights = np.zeros(len(depth))
    weights[kept] = _least_variance((own_covariance + common)[np.ix_(kept, kept)])
    mean = float(weights @ depth)
    own_variance = float(weights @ own_covariance @ weights)
    total = float(np.sum(1 / variance[kept]))
    for k, excess in enumerate((depth - mean) ** 2 - variance):
        share = 1 / variance[k] / (total + (0.0 if kept[k] else 1 / variance[k]))
        own_variance += share * max(float(excess), 0.0)
    return Fused(
        mean,
        math.sqrt(own_variance),
        math.sqrt(max(float(weights @ common @ weights), 0.0)),
        tuple(r.cue for r, k in zip(sources, kept, strict=True) if k),
    )


def _least_variance(covariance: FloatArray) -> FloatArray:
    """Weights that add up to 1 with the least variance; a negative one is left out."""
    weights = np.linalg.solve(covariance, np.ones(len(covariance)))
    if (weights < 0).any():
        weights = np.where(weights < 0, 0.0, weights)
    return np.asarray(weights / weights.sum())
