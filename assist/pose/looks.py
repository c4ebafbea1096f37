"""How somebody is dressed, as colours: what tells people apart who have crossed.

Colours of the trunk and of the thighs are taken as shares of soft classes: of hue and saturation
together, which hardly depend on the light, and of lightness, against the picture's own, which tells
white from black. Soft, so that a colour at the limit of a class does not leap.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from optics.checks import FloatArray

_CHROMA_STEP = 14.0
"""Width of a class of colour on both axes of Lab, green to red and blue to yellow."""
_CHROMAS = 7
_LIGHT_STEP = 45.0
_LIGHTS = 7
_LEAST_INSIDE = 0.5
"""Share of a region that must lie in the picture for it to tell anything."""
_NARROWEST = 0.25
"""Breadth of a trunk seen from the side, over its length, at which arms are still left out."""
_ACROSS, _DOWN = np.meshgrid(np.linspace(-0.3, 0.3, 10), np.linspace(0.12, 0.88, 16))
_SIDE, _ALONG = np.meshgrid(np.linspace(-0.08, 0.08, 4), np.linspace(0.15, 0.75, 12))

L = Landmark


@dataclass(frozen=True, slots=True)
class Looks:
    """Shares of the classes, each region's summing to one: (2, classes); NaN where it is not seen.

    The first region is the trunk, the second both thighs.
    """

    shares: FloatArray

    @classmethod
    def of(cls, picture: ColourImage, pose: Pose) -> Looks | None:
        """How the person of that pose looks; None where the trunk is not in the picture."""
        light = _lightness(picture)
        trunk = _shares(picture, _trunk_px(pose), light)
        if trunk is None:
            return None
        thighs = _shares(picture, _thighs_px(pose), light)
        return cls(np.array([trunk, np.full_like(trunk, np.nan) if thighs is None else thighs]))

    def unlike(self, other: Looks) -> float:
        """How unlike two are: 0 for the same, 1 where no colour is in common.

        The Hellinger distance, over the regions that were seen of both.
        """
        common = np.sqrt(self.shares * other.shares).reshape(len(self.shares), 2, -1).sum(axis=2)
        apart = np.sqrt(np.clip(1 - common, 0, 1))
        return float(np.nanmean(apart.mean(axis=1)))

    def mixed(self, newer: Looks, share: float) -> Looks:
        """These looks, brought nearer to newer ones by that share."""
        both = (1 - share) * self.shares + share * newer.shares
        both = np.where(np.isnan(both), newer.shares, both)
        return Looks(np.where(np.isnan(both), self.shares, both))


def _lightness(picture: ColourImage) -> float:
    """The picture's lightness, 0 to 255, so that the camera's exposure falls out."""
    few = np.ascontiguousarray(picture[::32, ::32])
    return float(np.median(cv2.cvtColor(few, cv2.COLOR_BGR2GRAY)))


def _trunk_px(pose: Pose) -> FloatArray:
    """Places (n, 2) on the trunk, clear of the arms."""
    shoulders = pose.middle_px(L.LEFT_SHOULDER, L.RIGHT_SHOULDER)
    down = pose.middle_px(L.LEFT_HIP, L.RIGHT_HIP) - shoulders
    across = pose.image_px[L.LEFT_SHOULDER] - pose.image_px[L.RIGHT_SHOULDER]
    breadth, length = float(np.hypot(*across)), float(np.hypot(*down))
    if breadth < _NARROWEST * length:
        across = _NARROWEST * np.array([down[1], -down[0]])
    return np.asarray(shoulders + _DOWN.reshape(-1, 1) * down + _ACROSS.reshape(-1, 1) * across)


def _thighs_px(pose: Pose) -> FloatArray:
    """Places (n, 2) on both thighs."""
    found = []
    for hip, knee in ((L.LEFT_HIP, L.LEFT_KNEE), (L.RIGHT_HIP, L.RIGHT_KNEE)):
        along = pose.image_px[knee] - pose.image_px[hip]
        side = np.array([along[1], -along[0]])
        found.append(
            pose.image_px[hip] + _ALONG.reshape(-1, 1) * along + _SIDE.reshape(-1, 1) * side
        )
    return np.concatenate(found)


def _shares(picture: ColourImage, places_px: FloatArray, light: float) -> FloatArray | None:
    """Shares of the classes among the places' colours: those of colour, then those of lightness.

    Each of the two sums to one, and is filled up to the same number of classes.
    """
    if not np.isfinite(places_px).all():
        return None
    at = np.floor(places_px).astype(np.int64)
    height, width = picture.shape[:2]
    inside = (at >= 0).all(axis=1) & (at[:, 0] < width) & (at[:, 1] < height)
    if np.count_nonzero(inside) < _LEAST_INSIDE * len(at):
        return None
    x, y = at[inside].T
    lab = cv2.cvtColor(picture[y, x][None], cv2.COLOR_BGR2LAB)[0].astype(np.float64)
    half = (_CHROMAS - 1) / 2
    a = np.clip((lab[:, 1] - 128) / _CHROMA_STEP + half, 0, _CHROMAS - 1)
    b = np.clip((lab[:, 2] - 128) / _CHROMA_STEP + half, 0, _CHROMAS - 1)
    shade = np.clip((lab[:, 0] - light) / _LIGHT_STEP + (_LIGHTS - 1) / 2, 0, _LIGHTS - 1)
    classes = _CHROMAS * _CHROMAS
    ia, ib, il = (np.minimum(v.astype(np.int64), n - 2) for v, n in
                  ((a, _CHROMAS), (b, _CHROMAS), (shade, _LIGHTS)))  # fmt: skip
    fa, fb, fl = a - ia, b - ib, shade - il
    first = ia * _CHROMAS + ib
    corners = np.concatenate([first, first + 1, first + _CHROMAS, first + _CHROMAS + 1])
    weights = np.concatenate([(1 - fa) * (1 - fb), (1 - fa) * fb, fa * (1 - fb), fa * fb])
    colours = np.bincount(corners, weights, classes)
    lights = np.bincount(np.concatenate([il, il + 1]), np.concatenate([1 - fl, fl]), classes)
    return np.concatenate([colours, lights]) / len(x)
