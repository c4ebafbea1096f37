"""Which shape a blur has, from how well each shape fits all the edges together."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from assist.review import edge_fit, edges, redrawn
from assist.review.compression import Compression
from assist.review.edge_fit import EdgeFits
from assist.review.edge_models import DISC_DIAMETERS, HALF_LENGTH_PX, SHAPES, STEP_PX, Samples
from assist.review.edges import Edges

_USUAL_WITHIN = 1.6
"""An edge's own width is believed within this many times the usual one, either way."""


def belief(misfit: NDArray[np.float64]) -> NDArray[np.float64]:
    """Belief in each shape, from (shapes, n) misfits."""
    score = np.log(np.maximum(misfit, 1e-4))
    centred = score - score.mean(axis=0)
    mean = centred.mean(axis=1)
    # Neighbouring edges repeat each other: about one in four counts as a new witness.
    error = np.maximum(centred.std(axis=1) / math.sqrt(max(misfit.shape[1] / 4, 1.0)), 0.01)
    share = np.exp(-(mean - mean.min()) / error.mean())
    return np.asarray(share / share.sum())


def fit(profiles: Samples, found: Edges, compression: Compression | None) -> EdgeFits:
    """Quick fits of the edges' profiles, what a compression did to them taken off.

    Compression takes the corners off an edge, and a disc then looks like a bell. What it adds to an
    edge of each shape is worked out at the width that fits, and that shape judged without it.
    """
    if compression is None or not len(found):
        return edge_fit.fit(profiles, False)
    rough = edge_fit.fit(profiles, False)
    angle = np.arctan2(found.normal[:, 1], found.normal[:, 0])
    row = np.arange(len(found))
    cleaned = np.empty((len(SHAPES), *profiles.shape), np.float32)
    for index, shape in enumerate(SHAPES):
        sigma = rough.sigma_px[index]
        usual = float(np.median(sigma))
        sigma = np.clip(sigma, usual / _USUAL_WITHIN, usual * _USUAL_WITHIN)
        reach = np.rint((DISC_DIAMETERS / 2 * sigma + 0.5) / STEP_PX).astype(int)
        middle = round(HALF_LENGTH_PX / STEP_PX)
        reach = np.minimum(reach, middle)
        low = profiles[row, middle - reach].astype(np.float64)
        high = profiles[row, middle + reach].astype(np.float64)
        steps = redrawn.Steps(
            found.place_px, angle, low, high - low, np.zeros_like(low), np.zeros_like(low)
        )
        sheet, places = redrawn.changes(steps, sigma, shape, compression)
        cleaned[index] = profiles - edges.profiles(sheet, places)
    return edge_fit.fit(cleaned, False)
