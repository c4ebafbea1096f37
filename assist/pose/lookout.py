"""Looking out for others: beside the run, a few times a second, over the whole picture.

The pose network that measures the person follows them alone and sees nobody else. A second one, on
a thread of its own, searches a small copy of a picture now and then, with those covered who are
known already: side by side, the larger of two keeps a search from reporting the other.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.pose import Glance, Pose, Someone
from assist.pose.landmarks import Landmark
from assist.pose.looks import Looks

Search = Callable[[ColourImage], list[Pose]]

ALONE_EVERY_S = 1 / 3
"""How often it is looked while nobody else is known to be in view."""
IN_COMPANY_EVERY_S = 1 / 7
_EARLY_S = 0.005
_MOST_PX = 640
"""Longer side of the small copy; the search itself shrinks it to 224."""
_MARGIN = 0.08
"""How far clothes and hair reach beyond the landmarks, over the longer side of their box."""
_SAME = 0.6
"""Trunk lengths between two poses below which they are taken for one person's."""
_AHEAD = 2
"""Pictures of a file after which a look is waited for."""

L = Landmark
_TRUNK = [L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP]
_COVERED = [L.NOSE, L.LEFT_EAR, L.RIGHT_EAR, *_TRUNK, L.LEFT_KNEE, L.RIGHT_KNEE]


class Lookout:
    """Looks at some of a feed's pictures, one at a time.

    search: finds people in a picture by itself, whatever was in the one before; it may raise
    RuntimeError or ValueError, and is called on the lookout's own thread.
    """

    def __init__(self, search: Search) -> None:
        self._search = search
        self._thread = ThreadPoolExecutor(1, "lookout")
        self._looking: Future[Glance] | None = None
        self._pictures = 0
        self._due_s = -math.inf
        self._every_s = ALONE_EVERY_S

    def show(self, picture: ColourImage, time_s: float, known: Sequence[Pose]) -> None:
        """Look at that picture, if it is time to; `known`: who has been seen in it already."""
        self._pictures += 1
        early = 0 < self._due_s - time_s <= self._every_s
        if self._looking is not None or early:
            return
        self._due_s = time_s + self._every_s - _EARLY_S
        self._pictures = 0
        self._looking = self._thread.submit(self._look, picture, time_s, tuple(known))

    def glance(self, *, wait: bool) -> Glance | None:
        """What was seen, once, when it is there; `wait` for it where every picture counts."""
        look = self._looking
        if look is None or not (look.done() or (wait and self._pictures >= _AHEAD)):
            return None
        if wait and self._pictures < _AHEAD:
            return None  # always after as many pictures, however quick the machine
        self._looking = None
        try:
            glance = look.result()
        except (RuntimeError, ValueError, cv2.error):
            return None
        self._every_s = IN_COMPANY_EVERY_S if glance.others else ALONE_EVERY_S
        self._due_s = min(self._due_s, glance.time_s + self._every_s - _EARLY_S)
        return glance

    def close(self) -> None:
        """End the thread, after the look in hand; safe to call twice."""
        self._thread.shutdown()

    # -- on the thread ------------------------------------------------------------------------

    def _look(self, picture: ColourImage, time_s: float, known: tuple[Pose, ...]) -> Glance:
        scale = min(1.0, _MOST_PX / max(picture.shape))
        small = covered(picture, known, scale)
        found = [_enlarged(pose, picture, scale) for pose in self._search(small)]
        others = [pose for pose in found if not any(_same(pose, other) for other in known)]
        return Glance(
            time_s, tuple(Someone(pose, Looks.of(picture, pose)) for pose in _apart(others))
        )


def covered(picture: ColourImage, people: Sequence[Pose], scale: float = 1.0) -> ColourImage:
    """A copy of the picture on that scale, with head, trunk and thighs of these people covered."""
    made = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_LINEAR)
    height, width = made.shape[:2]
    colour = np.median(made[::8, ::8].reshape(-1, 3), axis=0)
    for pose in people:
        points = pose.image_px[_COVERED] * scale
        if not np.isfinite(points).all():
            continue
        low, high = points.min(axis=0), points.max(axis=0)
        margin = _MARGIN * float((high - low).max())
        left, top = np.clip(low - margin, 0, (width, height)).astype(int)
        right, bottom = np.clip(high + margin, 0, (width, height)).astype(int)
        made[top:bottom, left:right] = colour
    return np.asarray(made, dtype=np.uint8)


def _enlarged(pose: Pose, picture: ColourImage, scale: float) -> Pose:
    """A pose of the small copy, in pixels of the picture."""
    height, width = picture.shape[:2]
    return replace(pose, image_px=pose.image_px / scale, width_px=width, height_px=height)


def _trunk(pose: Pose) -> tuple[float, float, float]:
    """Middle and length of a trunk, pixels."""
    down = pose.middle_px(L.LEFT_HIP, L.RIGHT_HIP) - pose.middle_px(
        L.LEFT_SHOULDER, L.RIGHT_SHOULDER
    )
    x, y = pose.image_px[_TRUNK].mean(axis=0)
    return float(x), float(y), max(1.0, float(np.hypot(*down)))


def _same(one: Pose, other: Pose) -> bool:
    """Whether two poses are about in one place; a far person behind a near one is not."""
    x, y, size = _trunk(one)
    other_x, other_y, other_size = _trunk(other)
    near = math.hypot(x - other_x, y - other_y) < _SAME * min(size, other_size)
    return near and abs(math.log(size / other_size)) < math.log(2)


def _apart(poses: Sequence[Pose]) -> list[Pose]:
    """The poses without those that are of somebody who is among them already."""
    kept: list[Pose] = []
    for pose in poses:
        if not any(_same(pose, other) for other in kept):
            kept.append(pose)
    return kept
