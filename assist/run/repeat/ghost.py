"""The ghost: the kept pose as an outline, and the kept framing as faint lines, over the feed."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage
from assist.pose.landmarks import BONES, Landmark
from assist.run.repeat.earlier import Earlier

_FILL = (255,)
_DARK, _LIGHT = 1, 2
_LIMB = 0.26
"""Thickness of a limb over the height of the torso."""
_HEAD = 0.30
_SEEN = 0.4


class Ghost:
    """Draws over pictures of one size; what never changes is made once.

    strength: 0 hides it, 1 is strongest.
    """

    def __init__(self, earlier: Earlier, strength: float = 0.6) -> None:
        self._earlier = earlier
        self.strength = strength
        self._made_for = (0, 0)
        self._where: tuple[NDArray[np.intp], ...] = ()
        self._cover: NDArray[np.float32] = np.zeros((0, 1), np.float32)
        self._ink: NDArray[np.float32] = np.zeros((0, 1), np.float32)

    def change(self, by: float) -> None:
        """Stronger or weaker."""
        self.strength = min(1.0, max(0.0, round(self.strength + by, 3)))

    def over(self, picture: ColourImage) -> None:
        """Draw the ghost over the picture, in place."""
        height, width = picture.shape[:2]
        if self._made_for != (width, height):
            self._make(width, height)
        if self.strength <= 0:
            return
        rows, columns = self._where
        ground = picture[rows, columns].astype(np.float32)
        ground += self.strength * self._cover * (self._ink - ground)
        picture[rows, columns] = ground

    def _make(self, width: int, height: int) -> None:
        self._made_for = (width, height)
        seen = self._earlier.seen_by_feed(width, height)
        if seen is None:
            self._keep(np.zeros((height, width), np.float32), np.zeros((height, width), np.uint8))
            return
        earlier = cv2.resize(seen.picture, (width, height), interpolation=cv2.INTER_AREA)
        gray = cv2.GaussianBlur(cv2.cvtColor(earlier, cv2.COLOR_BGR2GRAY), (0, 0), 2.0)
        edges = cv2.Canny(gray, 40, 110)
        body = _body(seen, width, height)
        outline = np.zeros((height, width), np.uint8)
        if body is not None:
            edges[cv2.dilate(body, np.ones((9, 9), np.uint8)) > 0] = 0
            contours, _ = cv2.findContours(body, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
            thick = max(2, height // 180)
            for contour in contours:
                cv2.polylines(outline, [contour], True, (_DARK,), 3 * thick, cv2.LINE_8)
                cv2.polylines(outline, [contour], True, (_LIGHT,), thick, cv2.LINE_8)
        # A dark line with a light one in it shows on any ground; the scene's own lines are faint.
        cover = np.where(outline > 0, 1.0, np.where(edges > 0, 0.55, 0.0))
        self._keep(cover, outline)

    def _keep(self, cover: NDArray[np.float32], outline: NDArray[np.uint8]) -> None:
        # A few pixels in a hundred are covered: only these are touched, picture after picture.
        self._where = np.nonzero(cover)
        self._cover = cover[self._where].astype(np.float32)[:, None]
        ink = np.where(outline == _DARK, 0.0, 255.0)
        self._ink = ink[self._where].astype(np.float32)[:, None]


def _body(earlier: Earlier, width: int, height: int) -> NDArray[np.uint8] | None:
    """A figure as broad as a body, filled."""
    pose = earlier.pose
    if pose is None:
        return None
    scale = np.array([width / earlier.picture.shape[1], height / earlier.picture.shape[0]])
    points = pose.image_px * scale
    seen = pose.visibility >= _SEEN
    shoulders = points[[Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]]
    hips = points[[Landmark.LEFT_HIP, Landmark.RIGHT_HIP]]
    torso = float(np.hypot(*(shoulders.mean(axis=0) - hips.mean(axis=0))))
    if torso < 8:
        return None
    mask: NDArray[np.uint8] = np.zeros((height, width), np.uint8)
    limb = max(2, round(_LIMB * torso))

    def at(point: NDArray[np.float64]) -> tuple[int, int]:
        x, y = np.clip(point, -20_000, 20_000)
        return round(float(x)), round(float(y))

    for one, other in BONES:
        if seen[one] and seen[other]:
            cv2.line(mask, at(points[one]), at(points[other]), _FILL, limb)
    trunk = np.array([at(shoulders[0]), at(shoulders[1]), at(hips[1]), at(hips[0])])
    cv2.fillConvexPoly(mask, cv2.convexHull(trunk), _FILL)
    head = points[[Landmark.NOSE, Landmark.LEFT_EAR, Landmark.RIGHT_EAR]].mean(axis=0)
    middle = shoulders.mean(axis=0)
    cv2.line(mask, at(head), at(middle), _FILL, max(2, limb // 2))
    size = (round(0.72 * _HEAD * torso), round(_HEAD * torso))
    cv2.ellipse(mask, at(head - (0, 0.06 * torso)), size, 0, 0, 360, _FILL, -1)
    return mask
