"""Blur of a few pixels and more: edges held against models, on a pyramid.

Each level measures an octave or so of widths, and the finest level that can is used. No single edge
is believed: the blur is what the sharper ones among the edges that fit a model agree on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assist.base.words import N_
from assist.review.blur import edges, ellipse, kernel_shape, noise, profile_fit
from assist.review.blur.edge_models import DISC_DIAMETERS, SHAPES
from assist.review.blur.estimate import Estimate, NotMeasured
from assist.review.blur.region import MeasuredRegion

_LEVEL_TOP = 3.0
"""Standard deviation, in pixels of a level, above which the next coarser level measures better."""
_SECTOR_TOP, _FULL_SECTOR_TOP = 2.2, 1.6
"""The same for the edges of one direction, of which the weakest are lost earlier; and at full size.
There, a smear makes an even ramp of each that faces it: where that is long, no place on it is the
steepest, and the edges found are the untypical. Coarser, what is soft in the scene takes over."""
_LEVEL_BOTTOM = 0.7
"""Standard deviation, in pixels of a level, below which the next finer level measures better."""
_LEAST_EDGES = 14
_QUANTILE = 0.4
_FINE_QUANTILE, _FINE_SIGMA_PX = 0.2, 0.7
"""Under this blur the part of the edges to believe falls towards the sharpest: what compression and
the pixels themselves do to an edge then only widens it."""
_SOFT_BY_ITSELF = 1.1
"""So many times as wide as the sharper ones that face its way, an edge is soft by itself."""
_FITTING_PART = 0.6
_WORST_MISFIT = 0.22
_LEAST_CONTRAST = 0.10
_TRIALS, _FEW_TRIALS = 30, 12
_SECTORS = 6
_PER_SECTOR = 6
_LEAST_SECTORS = 4
_LEAST_RATIO = 1.25
_DIRECTION_FROM_PX = 2.0
"""Below this width the pixels themselves look like a direction."""


@dataclass(frozen=True, slots=True, eq=False)
class _LevelEdges:
    """Edges that fit at one level: sigma (shapes, n) in full-size pixels, misfit, direction."""

    scale: int
    sigma_px: NDArray[np.float64]
    misfit: NDArray[np.float64]
    angle: NDArray[np.float64]
    place_px: NDArray[np.float64]

    def __len__(self) -> int:
        return self.angle.size


def estimate(
    region: MeasuredRegion, fine: bool, believed: dict[str, float] | None = None
) -> Estimate | NotMeasured:
    """Blur at the edges of a region.

    fine: whether to finish with all models; without them it is three times as quick and a few per
    cent less certain.   believed: belief in each shape, where it is known better than the edges at
    full size tell.
    """
    levels: list[_LevelEdges] = []
    why = N_("no edges to measure on")
    settled: _LevelEdges | None = None
    weights = np.full(len(SHAPES), 1 / len(SHAPES))
    for scale, reduced in region.levels():
        found = _fitting_edges(reduced, scale, fine=False)
        if isinstance(found, NotMeasured):
            why = found.why if not levels else why
            if settled is not None:
                break
            continue
        levels.append(found)
        if settled is None:
            weights = _beliefs(found, believed)
            if _pooled(found, weights) <= _LEVEL_TOP * scale:
                # A quick look finds the level; the answer comes from all the models.
                if fine:
                    again = _fitting_edges(reduced, scale, fine=True)
                    if not isinstance(again, NotMeasured):
                        levels[-1] = found = again
                        weights = _beliefs(found, believed)
                settled = found
        # Blur along one direction only may need coarser levels for the edges that face that way.
        if settled is not None and not _some_sector_above(levels, weights):
            break
    if not levels:
        return NotMeasured(why)
    sample = settled or levels[-1]
    rng = np.random.default_rng(0)
    beliefs = dict(zip(SHAPES, (float(w) for w in weights), strict=True))
    trials = _TRIALS if fine else _FEW_TRIALS
    directed = _directed(levels[levels.index(sample) :], weights, rng, trials)
    if directed is not None:
        long, short, angle, spread = directed
        pooled = _pooled(sample, weights)
        return Estimate(long, short, angle, pooled, spread, beliefs, len(sample))
    groups = _groups(sample)
    tried = [_pooled(_resampled(sample, groups, rng), weights) for _ in range(trials)]
    sigma = _pooled(sample, weights)
    return Estimate(sigma, sigma, None, sigma, float(np.std(np.log(tried))), beliefs, len(sample))


def _beliefs(found: _LevelEdges, believed: dict[str, float] | None) -> NDArray[np.float64]:
    if believed is not None and found.scale == 1:
        return np.array([believed[shape] for shape in SHAPES])
    return kernel_shape.belief(found.misfit[:, _as_sharp_as_most(found)])


def _as_sharp_as_most(found: _LevelEdges) -> NDArray[np.bool_]:
    """The edges that are not soft by themselves, among those facing the same way.

    What an edge of the scene is softened by is no disc and no line, and would tell of a bell.
    """
    log_sigma = np.log(found.sigma_px).mean(axis=0)
    sector = _sectors(found)
    sharp = np.zeros(log_sigma.size, bool)
    for k in range(_SECTORS):
        mine = np.flatnonzero(sector == k)
        if mine.size:
            limit = _quantile(np.sort(log_sigma[mine]), _QUANTILE) + math.log(_SOFT_BY_ITSELF)
            sharp[mine] = log_sigma[mine] <= limit
    return sharp


def _fitting_edges(region: MeasuredRegion, scale: int, fine: bool) -> _LevelEdges | NotMeasured:
    found = edges.find(region)
    if len(found) < _LEAST_EDGES:
        return NotMeasured(N_("too few edges to measure on"))
    fits = profile_fit.fit(edges.profiles(region.image, found), fine)
    strong = fits.height >= noise.least_step(region, _LEAST_CONTRAST)
    if region.floor is not None:
        # Half: heights here are a profile's standard deviation.
        strong &= noise.stands_out(2 * fits.height, found.place_px, region.floor)
    if strong.sum() < _LEAST_EDGES:
        return NotMeasured(N_("too little contrast above the noise"))
    best = fits.misfit.min(axis=0)
    limit = min(float(np.quantile(best[strong], _FITTING_PART)), _WORST_MISFIT)
    good = strong & (best <= limit)
    if good.sum() < _LEAST_EDGES:
        return NotMeasured(N_("too few clear edges to measure on"))
    angle = np.arctan2(found.normal[good, 1], found.normal[good, 0])
    return _LevelEdges(
        scale,
        fits.sigma_px[:, good] * scale,
        fits.misfit[:, good],
        angle,
        found.place_px[good] * scale,
    )


def _pooled(sample: _LevelEdges, weights: NDArray[np.float64]) -> float:
    """Standard deviation of the blur, full-size pixels, all directions together."""
    return _agreed(weights @ np.log(sample.sigma_px))


def _agreed(log_sigma: NDArray[np.float64]) -> float:
    """What the sharper ones of some edges agree on, from the logarithms of their widths."""
    ordered = np.sort(log_sigma)
    usual = math.exp(_quantile(ordered, _QUANTILE))
    if usual >= _FINE_SIGMA_PX:
        return usual
    share = usual / _FINE_SIGMA_PX
    return math.exp(_quantile(ordered, _FINE_QUANTILE + (_QUANTILE - _FINE_QUANTILE) * share))


def _quantile(ordered: NDArray[np.float64], share: float) -> float:
    """As NumPy's, whose overhead is most of a review's thousands of calls."""
    place = (ordered.size - 1) * share
    low = int(place)
    high = min(low + 1, ordered.size - 1)
    return float(ordered[low] + (ordered[high] - ordered[low]) * (place - low))


def _groups(sample: _LevelEdges) -> list[NDArray[np.int64]]:
    """Edges by small cell: what is drawn together when edges are drawn anew."""
    cells = np.floor(sample.place_px / (12 * sample.scale)).astype(int)
    _, index = np.unique(cells, axis=0, return_inverse=True)
    index = index.ravel()
    return [np.flatnonzero(index == k) for k in range(index.max() + 1)]


def _resampled(
    sample: _LevelEdges, groups: list[NDArray[np.int64]], rng: np.random.Generator
) -> _LevelEdges:
    drawn = np.concatenate([groups[k] for k in rng.integers(len(groups), size=len(groups))])
    return _LevelEdges(
        sample.scale,
        sample.sigma_px[:, drawn],
        sample.misfit[:, drawn],
        sample.angle[drawn],
        sample.place_px[drawn],
    )


def _sectors(sample: _LevelEdges) -> NDArray[np.int64]:
    """Which sector of the half circle each edge faces."""
    turn = np.mod(sample.angle, np.pi) / np.pi
    return np.asarray(np.floor(turn * _SECTORS).astype(np.int64) % _SECTORS)


def _by_sector(
    samples: list[_LevelEdges], weights: NDArray[np.float64]
) -> dict[int, tuple[float, float, int]]:
    """Variance, mean direction and number of edges of each sector that has enough of them.

    From the coarsest level that still resolves it: on finer ones, the edges that are blurred most
    are the weakest, and those that are found among them are the untypical.
    """
    told: dict[int, tuple[float, float, int]] = {}
    for sample in samples:
        sector = _sectors(sample)
        log_sigma = weights @ np.log(sample.sigma_px)
        for k in range(_SECTORS):
            mine = sector == k
            count = int(mine.sum())
            if count < _PER_SECTOR:
                continue
            sigma = _agreed(log_sigma[mine])
            if k in told and sigma < _LEVEL_BOTTOM * sample.scale:
                continue
            angle = float(np.angle(np.mean(np.exp(2j * sample.angle[mine])))) / 2
            told[k] = (sigma**2, angle, count)
    return told


def _some_sector_above(samples: list[_LevelEdges], weights: NDArray[np.float64]) -> bool:
    """Whether some way may be smeared, and by more than the last of these levels measures well."""
    variances = [variance for variance, *_ in _by_sector(samples, weights).values()]
    if not variances or max(variances) < _LEAST_RATIO**2 * min(variances):
        return False
    top = _FULL_SECTOR_TOP if samples[-1].scale == 1 else _SECTOR_TOP
    return max(variances) > (top * samples[-1].scale) ** 2


def _fit_ellipse(
    samples: list[_LevelEdges], weights: NDArray[np.float64]
) -> tuple[float, float, float] | None:
    """Standard deviation along the most and the least blurred direction, and the former's angle."""
    told = _by_sector(samples, weights)
    if len(told) < _LEAST_SECTORS:
        return None
    variance, angle, count = (np.array(column) for column in zip(*told.values(), strict=True))
    # Relative errors are alike, but what is nearly sharp varies much within its sector.
    weight = np.sqrt(count) / (variance + 0.4 * variance.max())
    found = ellipse.fit(variance, angle, weight)
    if found is None:
        return None
    middle, swing = found.middle_px2, found.swing_px2
    least = max(middle - swing, 0.02 * middle)
    return math.sqrt(middle + swing), math.sqrt(least), found.angle


def _directed(
    samples: list[_LevelEdges], weights: NDArray[np.float64], rng: np.random.Generator, times: int
) -> tuple[float, float, float, float] | None:
    """The ellipse and the relative spread of its long axis, where it surely is none too round."""
    whole = _fit_ellipse(samples, weights)
    if (
        whole is None
        or whole[0] * DISC_DIAMETERS < _DIRECTION_FROM_PX
        or whole[0] < 1.15 * whole[1]
    ):
        return None
    groups = [_groups(sample) for sample in samples]
    trials = []
    for _ in range(times):
        drawn = [_resampled(s, g, rng) for s, g in zip(samples, groups, strict=True)]
        trial = _fit_ellipse(drawn, weights)
        if trial is not None:
            trials.append(trial)
    if len(trials) < times // 2:
        return None
    ratios = np.array([most / least for most, least, _ in trials])
    turns = np.exp(2j * np.array([angle for *_, angle in trials]))
    # Where no direction is real, the angles of the trials scatter all round.
    if np.quantile(ratios, 0.05) < _LEAST_RATIO or abs(turns.mean()) < 0.8:
        return None
    return (*whole, float(np.std([math.log(most) for most, *_ in trials])))
