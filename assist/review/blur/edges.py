"""Edges of a picture: where they are, which way they face, and what lies across them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.review.blur.edge_models import HALF_LENGTH_PX, TIMES, Samples
from assist.review.blur.luminance import GrayImage
from assist.review.blur.region import MeasuredRegion

_SECTORS = 8
_ALONG = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
_SMOOTH_PX, _SMOOTH_NOISY_PX = 1.0, 2.0
_STANDS_OUT = 3.0
_GOES_ON, _GOES_ON_PX = 0.45, (2.5, 4.5)
"""An edge has at least this part of its gradient so far along it; a speck of noise has not."""


@dataclass(frozen=True, slots=True)
class Edges:
    """Edge points.

    place_px: (n, 2) x, y of each, pixel centres at whole numbers.
    normal: (n, 2) unit vectors across the edge, towards the brighter side.
    strength: (n,) gradient of the picture smoothed by one pixel, per pixel.
    """

    place_px: NDArray[np.float64]
    normal: NDArray[np.float64]
    strength: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.strength)


def find(region: MeasuredRegion) -> Edges:
    """The strongest edge points of a region, of every direction alike.

    A picture blurred along one direction has its strongest edges along the other: choosing by
    strength alone would see only what is still sharp.

    Where its noise is known, only edges that stand out from it and go on for a few pixels.
    """
    within, floor = region.within, region.floor
    smooth_px = _SMOOTH_PX if floor is None else _SMOOTH_NOISY_PX
    smooth = cv2.GaussianBlur(region.image, (0, 0), smooth_px)
    gx = np.asarray(cv2.Scharr(smooth, cv2.CV_32F, 1, 0, scale=1 / 32), dtype=np.float32)
    gy = np.asarray(cv2.Scharr(smooth, cv2.CV_32F, 0, 1, scale=1 / 32), dtype=np.float32)
    size = np.hypot(gx, gy)
    border = int(HALF_LENGTH_PX) // 2
    inside = np.zeros(size.shape, bool)
    inside[border:-border, border:-border] = True
    height, width = size.shape
    if height < 2 * border + 3 or width < 2 * border + 3:
        none = np.zeros((0, 2))
        return Edges(none, none, np.zeros(0))
    if within is not None:
        inside &= within
    # Thin the ridges: a point stays where it is the highest of three along its own gradient.
    ys, xs = np.nonzero(inside & (size > np.quantile(size[::2, ::2], 0.6)))
    s = size[ys, xs]
    nx, ny = gx[ys, xs] / s, gy[ys, xs] / s
    ahead = _at(size, xs + nx, ys + ny)
    behind = _at(size, xs - nx, ys - ny)
    kept = np.flatnonzero((s >= ahead) & (s > behind))
    if floor is not None:
        # What smoothing leaves of white noise has this gradient along one axis.
        left = floor * np.float32(_STANDS_OUT / (math.sqrt(8 * math.pi) * smooth_px**2))
        kept = kept[_real(gx, gy, xs[kept], ys[kept], left)]
    kept = kept[_choose(xs[kept], ys[kept], s[kept], np.arctan2(ny[kept], nx[kept]), region.most)]
    xs, ys, s = xs[kept], ys[kept], s[kept]
    nx, ny, ahead, behind = nx[kept], ny[kept], ahead[kept], behind[kept]
    bend = np.minimum(ahead + behind - 2 * s, -1e-12)
    shift = np.clip((behind - ahead) / (2 * bend), -0.7, 0.7)
    place = np.stack([xs + shift * nx, ys + shift * ny], axis=1).astype(np.float64)
    return Edges(place, np.stack([nx, ny], axis=1).astype(np.float64), s.astype(np.float64))


def _real(
    gx: NDArray[np.float32],
    gy: NDArray[np.float32],
    xs: NDArray[np.int64],
    ys: NDArray[np.int64],
    floor: NDArray[np.float32],
) -> NDArray[np.bool_]:
    """Which points have a gradient above the floor and go on, one way or the other, along it."""
    slope = np.hypot(gx[ys, xs], gy[ys, xs])
    nx, ny = gx[ys, xs] / slope, gy[ys, xs] / slope
    goes = np.zeros(xs.size, bool)
    for sign in (-1, 1):
        side = np.ones(xs.size, bool)
        for reach in _GOES_ON_PX:
            x, y = xs - sign * reach * ny, ys + sign * reach * nx
            side &= _at(gx, x, y) * nx + _at(gy, x, y) * ny > _GOES_ON * slope
        goes |= side
    return np.asarray((slope > floor[ys, xs]) & goes)


def _choose(
    xs: NDArray[np.int64],
    ys: NDArray[np.int64],
    strength: NDArray[np.float32],
    angle: NDArray[np.float32],
    most: int,
) -> NDArray[np.int64]:
    """Which points to keep: the strongest of each direction, one of each small cell."""
    order = np.argsort(-strength, kind="stable")
    # Neighbours along an edge say nearly the same.
    cell = (ys[order] // 2) * (int(xs.max(initial=0)) // 2 + 1) + xs[order] // 2
    _, first = np.unique(cell, return_index=True)
    order = order[np.sort(first)]
    sector = np.floor(np.mod(angle[order], np.pi) / np.pi * _SECTORS).astype(int) % _SECTORS
    rank = np.empty(order.size, int)
    for k in range(_SECTORS):
        mine = sector == k
        rank[mine] = np.arange(mine.sum())
    chosen: NDArray[np.int64] = order[np.argsort(rank, kind="stable")[:most]]
    return chosen


def _at(image: GrayImage, x: NDArray[Any], y: NDArray[Any]) -> NDArray[Any]:
    rows = 30_000  # remap takes pictures of at most 32767 rows
    pieces = [
        cv2.remap(
            image,
            np.asarray(x[i : i + rows, None], dtype=np.float32),
            np.asarray(y[i : i + rows, None], dtype=np.float32),
            cv2.INTER_LINEAR,
        )
        for i in range(0, len(x), rows)
    ]
    if not pieces:
        return np.zeros(0, np.float32)
    return np.asarray(np.concatenate(pieces)[:, 0], dtype=np.float32)


def profiles(image: GrayImage, edges: Edges) -> Samples:
    """(n, 33) the picture across each edge, from the darker to the brighter side.

    Averaged over five pixels along the edge, which lowers the noise and keeps the edge's width
    where it is straight that far.
    """
    if not len(edges):
        return np.zeros((0, TIMES.size), np.float32)
    across, along = edges.normal, edges.normal[:, ::-1] * (-1, 1)
    points = (
        edges.place_px[:, None, None]
        + across[:, None, None] * TIMES[None, None, :, None]
        + along[:, None, None] * _ALONG[None, :, None, None]
    )
    n = len(edges)
    x = np.asarray(points[..., 0].reshape(n * _ALONG.size, -1), dtype=np.float32)
    y = np.asarray(points[..., 1].reshape(n * _ALONG.size, -1), dtype=np.float32)
    sampled = cv2.remap(image, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
    return np.asarray(sampled.reshape(n, _ALONG.size, -1).mean(axis=1), dtype=np.float32)
