"""Edges drawn anew and sent through a picture's compression: what would be found of a known blur.

Every edge that was fitted in a picture is drawn again, straight, between the same levels and at the
same place in its square of the compression, with a blur that is known; then it goes the way that
the picture went, together with what lies beside it. Measuring it as the picture's edge was measured
tells what the compression did to the measure (indirect inference: Gourieroux, Monfort and Renault
1993, Journal of Applied Econometrics 8, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from assist.review.blur.compression import SIDE, Compression
from assist.review.blur.edge_models import (
    BOX_LENGTHS,
    DISC_DIAMETERS,
    gauss_legendre,
    normal_density,
)
from assist.review.blur.edges import Edges
from assist.review.blur.luminance import LINEAR, GrayImage

Array = NDArray[np.float64]

_PATCH = 3 * SIDE
"""Pixels along a side of a patch: the square that the step goes through, and those beside it."""
_ROW = 16
"""Patches beside each other in the picture that holds them."""
_NODES, _WEIGHTS = gauss_legendre(3)
_ELSE, _NOISE = 4.0, 3.0
"""What lies beside an edge in its square and is not drawn with it, as a standard deviation in 8-bit
values, and noise alone: it makes the rounding fall either way. Charts with and without noise agree
with these; noise of 1 % is 1.5 to 6, in bright parts and in dark."""
_UNLIKE = 10.0
"""Where the picture differs by more than about this from what is drawn, something else is there."""
_LEAST_SIGMA_PX, _REACH = 0.05, 6.0
_LIGHT = LINEAR.astype(np.float64)
_CURVE = np.interp(np.linspace(0, 1, 8193), _LIGHT, np.arange(256.0))
"""Linear light of even 8-bit values; 8-bit values of even linear light."""


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Straight steps in a picture, one line each.

    place_px: (n, 2).   angle: of the normal, towards the brighter side.   low, height: levels in
    linear light.   gap_px, second: how far beyond it another step lies, and its height; 0 for none.
    """

    place_px: Array
    angle: Array
    low: Array
    height: Array
    gap_px: Array
    second: Array

    def of(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Steps:
        """Some of them."""
        return Steps(*(getattr(self, field.name)[which] for field in fields(self)))


def _integrals() -> dict[str, Array]:
    """Of each shape's edge spread function of unit deviation, the integral from far below."""
    t = np.linspace(-_REACH, _REACH, 2401)
    half = DISC_DIAMETERS / 2
    x = np.clip(t / half, -1, 1)
    root = np.sqrt(1 - x * x)
    # The integral of 1/2 + (x root + arcsin x) / pi is in closed form.
    disc = half * (0.5 * (x + 1) + (x * np.arcsin(x) + root - root**3 / 3 - np.pi / 2) / np.pi)
    disc += np.maximum(t - half, 0)
    box = np.clip(t / BOX_LENGTHS + 0.5, 0, 1)
    line = BOX_LENGTHS * box**2 / 2 + np.maximum(t - BOX_LENGTHS / 2, 0)
    gauss = t * ndtr(t) + normal_density(t)
    return {"gauss": gauss, "disc": disc, "box": line}


_INTEGRALS = _integrals()


class Patches:
    """Patches of a picture, one for each step, that begin where its compression's squares do.

    own: all patches beside each other in one picture.   places: where the steps are in it.
    """

    def __init__(self, image: GrayImage, steps: Steps, compression: Compression | None) -> None:
        self._steps, self._compression = steps, compression
        begin = (0, 0) if compression is None else (compression.left, compression.top)
        square = np.floor((np.rint(steps.place_px) - begin) / SIDE).astype(np.int64)
        corner = square * SIDE + begin - SIDE
        padded = cv2.copyMakeBorder(image, *(_PATCH,) * 4, cv2.BORDER_REFLECT_101)
        self._span = np.arange(_PATCH)
        rows = corner[:, 1, None, None] + self._span[None, :, None] + _PATCH
        columns = corner[:, 0, None, None] + self._span[None, None, :] + _PATCH
        patches = padded[rows, columns].astype(np.float64)
        self._inside = steps.place_px - corner
        self._luma = _looked_up(_CURVE, patches) if compression is not None else None
        self.own = _sheet(patches)
        number = np.arange(steps.angle.size)
        shift = np.stack([number % _ROW, number // _ROW], axis=1) * _PATCH
        across = np.stack([np.cos(steps.angle), np.sin(steps.angle)], axis=1)
        self.places = Edges(self._inside + shift, across, steps.height)

    def _sharp(self, sigma_px: Array, shape: str) -> Array:
        """(n, side, side) each step alone, under a blur of that shape; not compressed.

        sigma_px: (n,) standard deviation of the blur of each; the pixel's own box left out.
        """
        steps = self._steps
        cos, sin = np.cos(steps.angle), np.sin(steps.angle)
        across_x = (self._span[None] - self._inside[:, :1]) * cos[:, None]
        across_y = (self._span[None] - self._inside[:, 1:]) * sin[:, None]
        t = np.asarray(across_y[:, :, None] + across_x[:, None, :], np.float64)
        t = t.reshape(cos.size, -1)
        sigma = np.maximum(sigma_px, _LEAST_SIGMA_PX)
        light = steps.low[:, None] + steps.height[:, None] * _stepped(t, cos, sin, sigma, shape)
        more = np.flatnonzero(steps.second)
        other = t[more] - steps.gap_px[more, None]
        other = _stepped(other, cos[more], sin[more], sigma[more], shape)
        light[more] += steps.second[more, None] * other
        return np.clip(light, 0.0, 1.0).reshape(-1, _PATCH, _PATCH)

    def alone(self, sigma_px: Array) -> GrayImage:
        """The same under bells, beside each other, as the compression leaves such steps alone."""
        light = self._sharp(sigma_px, "gauss")
        if self._compression is None:
            return _sheet(light)
        luma = self._compression.sent(_looked_up(_CURVE, light), _ELSE)
        return _sheet(_looked_up(_LIGHT, luma / 255))

    def among(self, sigma_px: Array, shape: str) -> GrayImage:
        """The same with what the compression adds to them among all else that is in their squares.

        What else is there has been through the compression already, and so has some of the step:
        this tells small differences of shape well, but too little of what the compression took.
        """
        light = self._sharp(sigma_px, shape)
        if self._compression is None or self._luma is None:
            return _sheet(light)
        luma = _looked_up(_CURVE, light)
        share = np.exp(-0.5 * ((self._luma - luma) / _UNLIKE) ** 4)
        together = share * luma + (1 - share) * self._luma
        added = self._compression.sent(together, _NOISE) - together
        return _sheet(_looked_up(_LIGHT, (luma + added) / 255))


def _looked_up(table: Array, x: Array) -> Array:
    """A table from 0 to 1 in even steps, read between them."""
    place = np.clip(x, 0, 1 - 1e-9) * (table.size - 1)
    index = place.astype(np.int64)
    low = table[index]
    return np.asarray(low + (table[index + 1] - low) * (place - index))


def _sheet(patches: Array | GrayImage) -> GrayImage:
    """All patches in one picture, so many beside each other."""
    n, side, _ = patches.shape
    rows = -(-n // _ROW)
    sheet = np.zeros((rows * _ROW, side, side), np.float32)
    sheet[:n] = patches
    beside = np.swapaxes(sheet.reshape(rows, _ROW, side, side), 1, 2)
    return np.ascontiguousarray(beside.reshape(rows * side, _ROW * side))


def _stepped(t: Array, cos: Array, sin: Array, sigma: Array, shape: str) -> Array:
    """(n, k) a blurred step from 0 to 1, averaged over the pixels whose centres lie at t."""
    integral = _INTEGRALS[shape]
    wide = np.maximum(abs(cos), abs(sin))
    narrow = np.minimum(abs(cos), abs(sin))
    reach = 3.2 * sigma + wide
    out = (t > 0).astype(np.float64)
    row, column = np.nonzero(abs(t) < reach[:, None])
    near = t[row, column]
    s, w, v = sigma[row], wide[row], narrow[row]
    total = np.zeros_like(near)
    for node, part in zip(_NODES, _WEIGHTS / 2, strict=True):
        middle = near + v * node / 2
        upper, lower = (middle + w / 2) / s, (middle - w / 2) / s
        total += part * s / w * (_read(integral, upper) - _read(integral, lower))
    out[row, column] = total
    return out


def _read(integral: Array, x: Array) -> Array:
    inside = _looked_up(integral, (x + _REACH) / (2 * _REACH))
    return np.asarray(inside + np.maximum(x - _REACH, 0))
