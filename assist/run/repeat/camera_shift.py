"""How the camera differs from the earlier picture: turned, tilted, rolled, zoomed or moved.

Corners of the scene are found in both pictures and matched; the person is left out. A camera that
only turned or zoomed moves all of them by one rule, whatever their distance (Hartley and Zisserman,
Multiple View Geometry, 2nd ed., section 8.4: x' = K' R K^-1 x). If the matches agree with one rigid
scene but not with that rule, the camera itself has moved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage
from assist.pose import Pose

_WORK_WIDTH_PX = 960
_FEATURES = 1200
_RATIO = 0.78
"""A match counts where the second best is clearly worse (Lowe 2004, IJCV 60, section 7.1)."""
_LEAST_MATCHES = 20
_FITS_WITHIN_PX = 2.0
_MOVED_BELOW = 0.65
LEAST_ANGLE_DEG, LEAST_ZOOM = 0.15, 0.006
"""Less than this is taken for none: below what a match of corners tells."""


@dataclass(frozen=True, slots=True)
class CameraShift:
    """The camera now against the earlier one.

    pan_deg: positive when it now looks farther to the right.   tilt_deg: positive: farther up.
    roll_deg: positive when it is turned clockwise, seen from behind it.
    zoom: its focal length now over that of then, as a ratio of sizes in the picture.
    moved: whether it stands elsewhere.   matches: how many corners agree.
    """

    pan_deg: float
    tilt_deg: float
    roll_deg: float
    zoom: float
    moved: bool
    matches: int

    @property
    def same(self) -> bool:
        """Whether nothing needs to be done."""
        turned = max(abs(self.pan_deg), abs(self.tilt_deg), abs(self.roll_deg)) >= LEAST_ANGLE_DEG
        return not (turned or self.moved or abs(self.zoom - 1) >= LEAST_ZOOM)


class ShiftFinder:
    """Compares pictures of a feed with one earlier picture.

    focal_px: focal length then, in pixels of the earlier picture.
    """

    def __init__(self, earlier: ColourImage, pose: Pose | None, focal_px: float) -> None:
        self._width = earlier.shape[1]
        self._scale = min(1.0, _WORK_WIDTH_PX / self._width)
        self._focal_px = focal_px * self._scale
        self._detector = cv2.SIFT_create(nfeatures=_FEATURES)  # type: ignore[attr-defined]
        self._matcher = cv2.BFMatcher(cv2.NORM_L2)
        self._height = earlier.shape[0]
        self._points, self._marks = self._features(earlier, pose)

    def _features(
        self, picture: ColourImage, pose: Pose | None
    ) -> tuple[NDArray[np.float64], NDArray[np.float32] | None]:
        """Corners (n, 2) about the picture's centre, at working size, and what they look like."""
        scale = self._scale * self._width / picture.shape[1]
        size = (round(picture.shape[1] * scale), round(picture.shape[0] * scale))
        gray = cv2.cvtColor(
            cv2.resize(picture, size, interpolation=cv2.INTER_AREA), cv2.COLOR_BGR2GRAY
        )
        mask = None
        if pose is not None:
            mask = np.full(gray.shape, 255, np.uint8)
            points = pose.image_px * scale
            low, high = points.min(axis=0), points.max(axis=0)
            pad = 0.12 * float((high - low).max())
            left, top = np.clip(low - pad, 0, size).astype(int)
            right, bottom = np.clip(high + pad, 0, size).astype(int)
            mask[top:bottom, left:right] = 0
        found, marks = self._detector.detectAndCompute(gray, mask)
        places = np.array([f.pt for f in found], np.float64).reshape(-1, 2)
        centre = (np.array(size) - 1) / 2
        return places - centre, marks

    def compare(self, picture: ColourImage, pose: Pose | None) -> CameraShift | None:
        """The shift, or None where too little of the scene is recognised."""
        points, marks = self._features(picture, pose)
        if marks is None or self._marks is None or min(len(marks), len(self._marks)) < 2:
            return None
        pairs = self._matcher.knnMatch(self._marks, marks, k=2)
        good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < _RATIO * p[1].distance]
        if len(good) < _LEAST_MATCHES:
            return None
        then = self._points[[m.queryIdx for m in good]]
        now = points[[m.trainIdx for m in good]]
        _, mask = cv2.findFundamentalMat(then, now, cv2.USAC_MAGSAC, 1.5, 0.999, 5000)
        if mask is None:
            return None
        rigid = mask.ravel() > 0
        if rigid.sum() < _LEAST_MATCHES:
            return None
        angles, zoom, fits = self._turn(then[rigid], now[rigid])
        if fits.sum() < _LEAST_MATCHES // 2:
            return None
        pan, tilt, roll = (math.degrees(a) for a in angles)
        moved = float(fits.mean()) < _MOVED_BELOW
        return CameraShift(pan, tilt, roll, zoom, moved, int(rigid.sum()))

    def _turn(
        self, then: NDArray[np.float64], now: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], float, NDArray[np.bool_]]:
        """Pan, tilt, roll (radians) and zoom that move most points as they moved."""
        values = np.array([0.0, 0.0, 0.0, 0.0])
        start, _ = cv2.estimateAffinePartial2D(then, now, method=cv2.RANSAC,
                                               ransacReprojThreshold=3.0)  # fmt: skip
        if start is not None:
            zoom = max(float(np.hypot(start[0, 0], start[1, 0])), 1e-3)
            values = np.array([
                math.atan2(-start[0, 2], self._focal_px * zoom),
                math.atan2(start[1, 2], self._focal_px * zoom),
                -math.atan2(start[1, 0], start[0, 0]),
                math.log(zoom),
            ])  # fmt: skip
        for _ in range(12):
            left = now - self._moved(then, values)
            size = np.hypot(left[:, 0], left[:, 1])
            weight = np.minimum(1.0, _FITS_WITHIN_PX / np.maximum(size, 1e-9)) ** 2
            step = 1e-5
            columns = []
            for k in range(4):
                nudged = values.copy()
                nudged[k] += step
                columns.append((self._moved(then, nudged) - self._moved(then, values)) / step)
            jacobian = np.stack([c.ravel() for c in columns], axis=1)
            w = np.repeat(np.sqrt(weight), 2)
            change, *_ = np.linalg.lstsq(jacobian * w[:, None], left.ravel() * w, rcond=None)
            values = values + change
            if np.abs(change).max() < 1e-8:
                break
        left = now - self._moved(then, values)
        fits = np.hypot(left[:, 0], left[:, 1]) < _FITS_WITHIN_PX
        return values[:3], math.exp(float(values[3])), fits

    def _moved(self, then: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where points of then are now, for a camera that panned, tilted, rolled and zoomed."""
        pan, tilt, roll, log_zoom = (float(v) for v in values)
        rays = np.column_stack([then / self._focal_px, np.ones(len(then))])
        # A camera that looks farther right sees everything farther left, and so on.
        cp, sp = math.cos(pan), math.sin(pan)
        ct, st = math.cos(tilt), math.sin(tilt)
        cr, sr = math.cos(roll), math.sin(roll)
        about_y = np.array([[cp, 0, -sp], [0, 1, 0], [sp, 0, cp]])
        about_x = np.array([[1, 0, 0], [0, ct, st], [0, -st, ct]])
        about_z = np.array([[cr, sr, 0], [-sr, cr, 0], [0, 0, 1]])
        turned = rays @ (about_z @ about_x @ about_y).T
        z = np.maximum(turned[:, 2:], 1e-6)
        return np.asarray(turned[:, :2] / z * self._focal_px * math.exp(log_zoom))
