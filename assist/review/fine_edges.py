"""Fine blur: edges held against the pixels themselves, without reading between them.

Below about two pixels of blur, what a camera's pixel and any interpolation do to an edge is as
large as the blur. Here each edge is a straight step under a normal distribution, integrated exactly
over square pixels at the edge's own angle, and fitted to the pixels round it by least squares. The
variance of the blur may come out negative (noise about a perfect edge): only then is its mean true.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.review import normal
from assist.review.edges import Edges, GrayImage

_HALF_PX = 5
_PIXELS = 56
"""As many as reach into the window, whatever its angle."""
_STEPS, _FEW_STEPS = 5, 2
_ALONG_PX, _ACROSS_PX = 2.6, 3.1
"""Half widths of the window, along and across; it is round outside."""
_LEAST_VARIANCE = 0.02
_NODES = np.array([-0.7745966692414834, 0.0, 0.7745966692414834])
_WEIGHTS = np.array([5 / 9, 8 / 9, 5 / 9])
"""Gauss and Legendre on -1 to 1. Source: Abramowitz and Stegun, table 25.4."""


@dataclass(frozen=True, slots=True)
class FineFits:
    """One line an edge.

    variance_px2: variance of the blur, the pixel's own box left out; may be negative.
    error_px2: standard deviation of that from what the fit leaves over.
    height: height of the step.   misfit: what is left over, as a part of the height.
    angle: direction of the edge's normal as fitted, radians.
    offset_px: how far along it from the edge's place the step lies.   low: the level before it.
    """

    variance_px2: NDArray[np.float64]
    error_px2: NDArray[np.float64]
    height: NDArray[np.float64]
    misfit: NDArray[np.float64]
    angle: NDArray[np.float64]
    offset_px: NDArray[np.float64]
    low: NDArray[np.float64]


def fit(image: GrayImage, found: Edges, near: NDArray[np.float64] | None = None) -> FineFits:
    """Fit every edge; n may be zero.

    near: (n,) variances near the answer, where angles and places are known too: a start that
    takes fewer steps.
    """
    n = len(found)
    span = np.arange(-_HALF_PX, _HALF_PX + 1)
    corner = np.rint(found.place_px).astype(int)
    padded = cv2.copyMakeBorder(image, *(_HALF_PX + 1,) * 4, cv2.BORDER_REFLECT_101)
    rows = corner[:, 1, None, None] + span[None, :, None] + _HALF_PX + 1
    columns = corner[:, 0, None, None] + span[None, None, :] + _HALF_PX + 1
    values = padded[rows, columns].reshape(n, -1).astype(np.float64)
    x = np.tile(span, span.size)[None] - (found.place_px[:, 0] - corner[:, 0])[:, None]
    y = np.repeat(span, span.size)[None] - (found.place_px[:, 1] - corner[:, 1])[:, None]
    close = np.argpartition(_out_of_window(x, y, found.normal), _PIXELS, axis=1)[:, :_PIXELS]
    values, x, y = (np.take_along_axis(part, close, axis=1) for part in (values, x, y))
    angle = np.arctan2(found.normal[:, 1], found.normal[:, 0])
    weight = np.clip(1 - _out_of_window(x, y, found.normal), 0, 1)
    offset, variance = np.zeros(n), np.full(n, 0.25) if near is None else near
    damping = np.full(n, 1e-3)
    state = _solve(values, weight, x, y, angle, offset, variance)
    for _ in range(_STEPS if near is None else _FEW_STEPS):
        step = _step(state, weight, damping)
        least = np.maximum(_LEAST_VARIANCE, variance / 3)
        tried = [
            np.asarray(angle + np.clip(step[:, 0], -0.15, 0.15), dtype=np.float64),
            np.asarray(offset + np.clip(step[:, 1], -0.5, 0.5), dtype=np.float64),
            np.asarray(np.clip(variance + step[:, 2], least, variance * 3), dtype=np.float64),
        ]
        new = _solve(values, weight, x, y, tried[0], tried[1], tried[2])
        better = new.left <= state.left
        damping = np.where(better, damping / 5, damping * 8)
        angle, offset, variance = (
            np.where(better, after, before)
            for after, before in zip(tried, (angle, offset, variance), strict=True)
        )
        state = state.where(better, new)
    last = _step(state, weight, np.zeros(n))
    free = np.maximum(weight.sum(axis=1) - 5, 1.0)
    noise = state.left / free
    spread = np.sqrt(noise * state.inverse_curvature(weight))
    height = state.height
    # Where the fit was stopped at the least variance allowed, one more step may go below zero.
    at_bottom = variance <= 1.5 * _LEAST_VARIANCE
    return FineFits(
        np.asarray(np.where(at_bottom, variance + np.minimum(last[:, 2], 0.2), variance)),
        spread,
        height,
        np.asarray(np.sqrt(noise) / np.maximum(abs(height), 1e-9)),
        np.asarray(angle),
        np.asarray(offset),
        state.low,
    )


def _out_of_window(
    x: NDArray[np.float64], y: NDArray[np.float64], normal: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far a pixel's far side lies outside the window along the edge's normal; 0 inside."""
    cos, sin = normal[:, :1], normal[:, 1:]
    across, along = abs(x * cos + y * sin), abs(y * cos - x * sin)
    return np.maximum(np.maximum(across - _ACROSS_PX, along - _ALONG_PX) + 0.5, 0)


@dataclass(frozen=True, slots=True)
class _State:
    """Linear part solved: what is left over and the derivatives by angle, offset, variance."""

    left: NDArray[np.float64]
    residual: NDArray[np.float64]
    low: NDArray[np.float64]
    height: NDArray[np.float64]
    basis: NDArray[np.float64]
    slopes: NDArray[np.float64]

    def where(self, better: NDArray[np.bool_], new: _State) -> _State:
        pick = better[:, None]
        return _State(
            np.where(better, new.left, self.left),
            np.where(pick, new.residual, self.residual),
            np.where(better, new.low, self.low),
            np.where(better, new.height, self.height),
            np.where(pick[..., None], new.basis, self.basis),
            np.where(pick[..., None], new.slopes, self.slopes),
        )

    def inverse_curvature(self, weight: NDArray[np.float64]) -> NDArray[np.float64]:
        _, square = _square(self, weight)
        scale = np.sqrt(np.maximum(np.einsum("nii->ni", square), 1e-30))
        scaled = square / scale[:, :, None] / scale[:, None, :] + 1e-9 * np.eye(square.shape[1])
        return np.asarray(np.linalg.inv(scaled)[:, -1, -1] / scale[:, -1] ** 2)


def _square(
    state: _State, weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    columns = np.concatenate([state.basis, state.slopes], axis=2)
    weighted = columns * weight[:, :, None]
    return (
        np.einsum("nki,nk->ni", weighted, state.residual),
        np.einsum("nki,nkj->nij", weighted, columns),
    )


def _step(
    state: _State, weight: NDArray[np.float64], damping: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Change of angle, offset, variance."""
    right, square = _square(state, weight)
    scale = np.sqrt(np.maximum(np.einsum("nii->ni", square), 1e-30))
    scaled = square / scale[:, :, None] / scale[:, None, :]
    scaled += (damping + 1e-9)[:, None, None] * np.eye(scaled.shape[1])
    solved = np.linalg.solve(scaled, (right / scale)[..., None])[..., 0] / scale
    return np.asarray(solved[:, -3:])


def _solve(
    values: NDArray[np.float64],
    weight: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    angle: NDArray[np.float64],
    offset: NDArray[np.float64],
    variance: NDArray[np.float64],
) -> _State:
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    t = x * cos + y * sin - offset[:, None]
    sigma = np.sqrt(variance)[:, None]
    wide = np.maximum(abs(cos), abs(sin))
    narrow = np.minimum(abs(cos), abs(sin))
    edge = np.zeros_like(t)
    line = np.zeros_like(t)
    bend = np.zeros_like(t)
    for node, part in zip(_NODES, _WEIGHTS / 2, strict=True):
        ahead = (t + narrow * node / 2 + wide / 2) / sigma
        behind = (t + narrow * node / 2 - wide / 2) / sigma
        upper, lower = normal.cdf(ahead), normal.cdf(behind)
        bell_a = normal.density(ahead)
        bell_b = normal.density(behind)
        edge += part * sigma / wide * (ahead * upper + bell_a - behind * lower - bell_b)
        line += part / wide * (upper - lower)
        bend += part / wide * (bell_a - bell_b) / sigma
    basis = np.stack([np.ones_like(edge), edge], axis=2)
    weighted = basis * weight[:, :, None]
    square = np.einsum("nki,nkj->nij", weighted, basis) + 1e-12 * np.eye(2)
    right = np.einsum("nki,nk->ni", weighted, values)
    level = np.linalg.solve(square, right[..., None])[..., 0]
    residual = values - np.einsum("nki,ni->nk", basis, level)
    height = level[:, 1]
    aside = y * cos - x * sin
    slopes = height[:, None, None] * np.stack([line * aside, -line, 0.5 * bend], axis=2)
    return _State((weight * residual**2).sum(axis=1), residual, level[:, 0], height, basis, slopes)
