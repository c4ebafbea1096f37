"""Fine blur: edges held against the pixels themselves, without reading between them.

Below about two pixels of blur, what a camera's pixel and any interpolation do to an edge is as
large as the blur. Here each edge is a straight step under a normal distribution, integrated exactly
over square pixels at the edge's own angle, and fitted to the pixels round it by least squares. The
variance of the blur may come out negative (noise about a perfect edge): only then is its mean true.
Where another step lies near, back again (the other side of a hair or a bar), one step alone comes
out too sharp, and two are fitted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.review.blur import normal
from assist.review.blur.edge_models import gauss_legendre, normal_density
from assist.review.blur.edges import Edges
from assist.review.blur.luminance import GrayImage

_PIXELS = 56
"""As many as reach into the window of the fit, whatever its angle."""
_STEPS, _FEW_STEPS = 5, 2
_ALONG_PX, _ACROSS_PX = 2.6, 3.1
"""Half widths of the window, along and across; it is round outside."""
_LEAST_VARIANCE, _BEGIN_VARIANCE = 0.02, 0.25
_NODES, _WEIGHTS = gauss_legendre(3)
_ONE_LIMITS = np.array([0.15, 0.5, np.inf])
_TWO_LIMITS = np.array([0.15, 0.5, 0.7, np.inf])
"""How far a step of the fit may change the parameters."""
_TWO_FROM = 0.01
"""Misfit from which a second step is looked for."""
_TWO_HOPES, _TWO_PAYS = 0.75, 0.5
"""It is fitted where it leaves so much of what one step leaves over at once, and believed where it
does when fitted."""
_TWO_STEPS = 6
_GAPS = (-4.2, -2.7, -1.6, 1.6, 2.7, 4.2)
_LEAST_GAP = 0.8
_TWO_BEGIN_VARIANCE = 0.1


@dataclass(frozen=True, slots=True)
class FineFits:
    """One line an edge.

    variance_px2: variance of the blur, the pixel's own box left out; may be negative.
    error_px2: standard deviation of that from what the fit leaves over.
    height: height of the step.   misfit: what is left over, as a part of the height.
    angle: direction of the edge's normal as fitted, radians.
    offset_px: how far along it from the edge's place the step lies.   low: the level before it.
    gap_px, second: how far beyond that another step lies, and its height, of the opposite sign;
        0 where there is none.
    """

    variance_px2: NDArray[np.float64]
    error_px2: NDArray[np.float64]
    height: NDArray[np.float64]
    misfit: NDArray[np.float64]
    angle: NDArray[np.float64]
    offset_px: NDArray[np.float64]
    low: NDArray[np.float64]
    gap_px: NDArray[np.float64]
    second: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Windows:
    """(n, k) pixels of each edge: values, weights, and places from the edge's."""

    values: NDArray[np.float64]
    weight: NDArray[np.float64]
    x: NDArray[np.float64]
    y: NDArray[np.float64]

    def of(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> _Windows:
        return _Windows(self.values[which], self.weight[which], self.x[which], self.y[which])


def fit(
    image: GrayImage,
    found: Edges,
    near: NDArray[np.float64] | None = None,
    gap_px: NDArray[np.float64] | float = 0.0,
) -> FineFits:
    """Fit every edge; n may be zero.

    near, gap_px: (n,) variances near the answer and gaps, 0 for none, where angles and places are
    known too: a start that takes fewer steps.
    """
    n = len(found)
    seen = _window([image], found, _ACROSS_PX)[0]
    angle = np.arctan2(found.normal[:, 1], found.normal[:, 0])
    if near is not None:
        return _again(
            seen, np.stack([angle, np.zeros(n), np.broadcast_to(gap_px, n), near], axis=1)
        )
    begin = np.stack([angle, np.zeros(n), np.full(n, _BEGIN_VARIANCE)], axis=1)
    one = _descended(seen, begin, _STEPS, _ONE_LIMITS)
    fits = _told(seen, one)
    which = np.flatnonzero(fits.misfit > _TWO_FROM)
    begin, left = _with_gap(seen.of(which), one.of(which))
    hopeful = left < _TWO_HOPES * one.left[which]
    which = which[hopeful]
    some, before = seen.of(which), one.of(which)
    two = _descended(some, begin[hopeful], _TWO_STEPS, _TWO_LIMITS)
    pays = (two.left < _TWO_PAYS * before.left) & (two.level[:, 1] * two.level[:, 2] < 0)
    pays &= abs(two.at[:, 2]) > _LEAST_GAP
    _put(fits, which[pays], _told(some.of(pays), two.of(pays)))
    return fits


def remainders(
    image: GrayImage,
    unlike: list[GrayImage],
    found: Edges,
    variance_px2: NDArray[np.float64],
    gap_px: NDArray[np.float64],
    across_px: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What a further step of the fit would leave over of the differences from some models.

    unlike: p pictures of differences, small against the steps at the edges.   variance_px2, gap_px:
    (n,) as fitted to the image; gaps of 0 are none.   across_px: half width of the window.
    Returns the (n, p, p) sums over the window of their products, and the (n,) degrees of freedom.
    """
    count = len(unlike)
    windows = _window([image, *unlike], found, across_px)
    values = np.stack([one.values for one in windows[1:]], axis=2)
    angle = np.arctan2(found.normal[:, 1], found.normal[:, 0])
    at = np.stack([angle, np.zeros(len(found)), gap_px, variance_px2], axis=1)
    products = np.empty((len(found), count, count))
    free = np.empty(len(found))
    for double in (False, True):
        which = np.flatnonzero((gap_px != 0) == double)
        seen = windows[0].of(which)
        state = _solve(seen, at[which] if double else at[which][:, [0, 1, 3]])
        columns = np.concatenate([state.basis, state.slopes], axis=2)
        root = np.sqrt(seen.weight)[:, :, None]
        own = values[which] * root
        plain, _ = np.linalg.qr(columns * root)
        left = own - plain @ (np.swapaxes(plain, 1, 2) @ own)
        products[which] = np.swapaxes(left, 1, 2) @ left
        free[which] = np.maximum(seen.weight.sum(axis=1) - columns.shape[2], 1.0)
    return products, free


def _again(seen: _Windows, at: NDArray[np.float64]) -> FineFits:
    """From parameters near the answer; a gap of 0 is none."""
    fits = _told(seen, _descended(seen, at[:, [0, 1, 3]], _FEW_STEPS, _ONE_LIMITS))
    which = np.flatnonzero(at[:, 2])
    some = seen.of(which)
    _put(fits, which, _told(some, _descended(some, at[which], _FEW_STEPS, _TWO_LIMITS)))
    return fits


def _put(fits: FineFits, where: NDArray[np.int64], better: FineFits) -> None:
    for field in fields(FineFits):
        getattr(fits, field.name)[where] = getattr(better, field.name)


def _descended(
    seen: _Windows, at: NDArray[np.float64], steps: int, limits: NDArray[np.float64]
) -> _State:
    """After so many steps of Levenberg and Marquardt from those parameters."""
    damping = np.full(len(at), 1e-3)
    state = _solve(seen, at)
    for _ in range(steps):
        tried = state.at + np.clip(_step(state, seen.weight, damping), -limits, limits)
        before = state.at[:, -1]
        least = np.maximum(_LEAST_VARIANCE, before / 3)
        tried[:, -1] = np.clip(tried[:, -1], least, before * 3)
        new = _solve(seen, tried)
        better = new.left <= state.left
        damping = np.where(better, damping / 5, damping * 8)
        state = state.where(better, new)
    return state


def _told(seen: _Windows, state: _State) -> FineFits:
    n, count = state.at.shape
    last = _step(state, seen.weight, np.zeros(n))[:, -1]
    free = np.maximum(seen.weight.sum(axis=1) - count - state.level.shape[1], 1.0)
    noise = state.left / free
    variance, height = state.at[:, -1], state.level[:, 1]
    # Where the fit was stopped at the least variance allowed, one more step may go below zero.
    at_bottom = variance <= 1.5 * _LEAST_VARIANCE
    none = np.zeros(n)
    return FineFits(
        np.asarray(np.where(at_bottom, variance + np.minimum(last, 0.2), variance)),
        np.sqrt(noise * state.inverse_curvature(seen.weight)),
        height.copy(),
        np.asarray(np.sqrt(noise) / np.maximum(abs(height), 1e-9)),
        state.at[:, 0].copy(),
        state.at[:, 1].copy(),
        state.level[:, 0].copy(),
        none if count == _ONE_LIMITS.size else state.at[:, 2].copy(),
        none.copy() if count == _ONE_LIMITS.size else state.level[:, 2].copy(),
    )


def _with_gap(seen: _Windows, one: _State) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Parameters to begin with for two steps, and what they leave over: the best gap of a few."""
    angle, offset, variance = one.at.T
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    t = seen.x * cos + seen.y * sin - offset[:, None]
    # The pixel as a bell of its variance: good enough to begin with.
    sigma = np.sqrt(np.maximum(variance, _TWO_BEGIN_VARIANCE) + 1 / 12)[:, None]
    first = normal.cdf(t / sigma)
    best, gap = np.full(len(one.at), np.inf), np.full(len(one.at), _GAPS[-1])
    for tried in _GAPS:
        basis = np.stack([np.ones_like(t), first, normal.cdf((t - tried) / sigma)], axis=2)
        level, left, _ = _levels(seen, basis)
        better = (left < best) & (level[:, 1] * level[:, 2] < 0)
        best, gap = np.where(better, left, best), np.where(better, tried, gap)
    variance = np.maximum(variance, _TWO_BEGIN_VARIANCE)
    return np.stack([angle, offset, gap, variance], axis=1), best


def _levels(
    seen: _Windows, basis: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Levels that fit best, what is left over in squares, and at every pixel."""
    weighted = np.swapaxes(basis * seen.weight[:, :, None], 1, 2)
    square = weighted @ basis + 1e-9 * np.eye(basis.shape[2])
    right = weighted @ seen.values[:, :, None]
    level = np.linalg.solve(square, right)
    residual = seen.values - (basis @ level)[..., 0]
    left_over = (seen.weight * residual**2).sum(axis=1)
    return np.asarray(level[..., 0], np.float64), np.asarray(left_over), residual


def _window(pictures: list[GrayImage], found: Edges, across_px: float) -> list[_Windows]:
    """Of each picture the pixels round every edge."""
    half = math.ceil(math.hypot(across_px, _ALONG_PX) + 1)
    count = round(_PIXELS * (across_px + 0.5) / (_ACROSS_PX + 0.5))
    span = np.arange(-half, half + 1)
    corner = np.rint(found.place_px).astype(int)
    x = np.tile(span, span.size)[None] - (found.place_px[:, 0] - corner[:, 0])[:, None]
    y = np.repeat(span, span.size)[None] - (found.place_px[:, 1] - corner[:, 1])[:, None]
    out = _out_of_window(x, y, found.normal, across_px)
    close = np.argpartition(out, count, axis=1)[:, :count]
    x, y = np.take_along_axis(x, close, axis=1), np.take_along_axis(y, close, axis=1)
    weight = np.clip(1 - np.take_along_axis(out, close, axis=1), 0, 1)
    rows = corner[:, 1, None] + close // span.size + 1
    columns = corner[:, 0, None] + close % span.size + 1
    windows = []
    for picture in pictures:
        padded = cv2.copyMakeBorder(picture, *(half + 1,) * 4, cv2.BORDER_REFLECT_101)
        windows.append(_Windows(padded[rows, columns].astype(np.float64), weight, x, y))
    return windows


def _out_of_window(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    normal: NDArray[np.float64],
    across_px: float,
) -> NDArray[np.float64]:
    """How far a pixel's far side lies outside the window along the edge's normal; 0 inside."""
    cos, sin = normal[:, :1], normal[:, 1:]
    across, along = abs(x * cos + y * sin), abs(y * cos - x * sin)
    return np.maximum(np.maximum(across - across_px, along - _ALONG_PX) + 0.5, 0)


@dataclass(frozen=True, slots=True)
class _State:
    """Linear part solved at some parameters.

    at: (n, p) angle, offset, with a second step its gap, variance.   left: what is left over.
    level: (n, b) level and heights of the steps.   basis, slopes: (n, k, b) and (n, k, p)
    derivatives by the levels and the parameters.
    """

    at: NDArray[np.float64]
    left: NDArray[np.float64]
    residual: NDArray[np.float64]
    level: NDArray[np.float64]
    basis: NDArray[np.float64]
    slopes: NDArray[np.float64]

    def of(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> _State:
        return _State(*(getattr(self, field.name)[which] for field in fields(self)))

    def where(self, better: NDArray[np.bool_], new: _State) -> _State:
        def picked(name: str) -> NDArray[np.float64]:
            old = getattr(self, name)
            shape = (-1, *(1,) * (old.ndim - 1))
            return np.asarray(np.where(better.reshape(shape), getattr(new, name), old))

        return _State(*(picked(field.name) for field in fields(self)))

    def inverse_curvature(self, weight: NDArray[np.float64]) -> NDArray[np.float64]:
        """Of the variance, the last parameter."""
        _, square = _square(self, weight)
        scale = np.sqrt(np.maximum(np.einsum("nii->ni", square), 1e-30))
        scaled = square / scale[:, :, None] / scale[:, None, :] + 1e-9 * np.eye(square.shape[1])
        return np.asarray(np.linalg.inv(scaled)[:, -1, -1] / scale[:, -1] ** 2)


def _square(
    state: _State, weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    columns = np.concatenate([state.basis, state.slopes], axis=2)
    weighted = np.swapaxes(columns * weight[:, :, None], 1, 2)
    return (weighted @ state.residual[:, :, None])[..., 0], weighted @ columns


def _step(
    state: _State, weight: NDArray[np.float64], damping: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Change of the parameters."""
    right, square = _square(state, weight)
    scale = np.sqrt(np.maximum(np.einsum("nii->ni", square), 1e-30))
    scaled = square / scale[:, :, None] / scale[:, None, :]
    scaled += (damping + 1e-9)[:, None, None] * np.eye(scaled.shape[1])
    solved = np.linalg.solve(scaled, (right / scale)[..., None])[..., 0] / scale
    return np.asarray(solved[:, -state.at.shape[1] :])


def _solve(seen: _Windows, at: NDArray[np.float64]) -> _State:
    angle, offset, variance = at[:, 0], at[:, 1], at[:, -1]
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    t = seen.x * cos + seen.y * sin - offset[:, None]
    aside = seen.y * cos - seen.x * sin
    sigma = np.sqrt(variance)[:, None]
    edge, line, bend = _drawn(t, sigma, cos, sin)
    if at.shape[1] == _ONE_LIMITS.size:
        basis = np.stack([np.ones_like(edge), edge], axis=2)
        level, left, residual = _levels(seen, basis)
        high = level[:, 1, None]
        slopes = np.stack([high * line * aside, -high * line, 0.5 * high * bend], axis=2)
        return _State(at, left, residual, level, basis, slopes)
    other, other_line, other_bend = _drawn(t - at[:, 2, None], sigma, cos, sin)
    basis = np.stack([np.ones_like(edge), edge, other], axis=2)
    level, left, residual = _levels(seen, basis)
    high, second = level[:, 1, None], level[:, 2, None]
    both = high * line + second * other_line
    slopes = np.stack(
        [both * aside, -both, -second * other_line, 0.5 * (high * bend + second * other_bend)],
        axis=2,
    )
    return _State(at, left, residual, level, basis, slopes)


def _drawn(
    t: NDArray[np.float64],
    sigma: NDArray[np.float64],
    cos: NDArray[np.float64],
    sin: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """A step over pixels at t from it, and its first and second derivative."""
    wide = np.maximum(abs(cos), abs(sin))
    narrow = np.minimum(abs(cos), abs(sin))
    edge = np.zeros_like(t)
    line = np.zeros_like(t)
    bend = np.zeros_like(t)
    for node, part in zip(_NODES, _WEIGHTS / 2, strict=True):
        ahead = (t + narrow * node / 2 + wide / 2) / sigma
        behind = (t + narrow * node / 2 - wide / 2) / sigma
        upper, lower = normal.cdf(ahead), normal.cdf(behind)
        bell_a = normal_density(ahead)
        bell_b = normal_density(behind)
        edge += part * sigma / wide * (ahead * upper + bell_a - behind * lower - bell_b)
        line += part / wide * (upper - lower)
        bend += part / wide * (bell_a - bell_b) / sigma
    return edge, line, bend
