"""Whether the camera still stands where the mark was taught: what was learned there holds no more.

A tripod that was knocked, a zoom ring that turned: the distances that were learned by are another
camera's then. A picture of the moment is kept, and compared with now and then, on a thread.
"""

from __future__ import annotations

import math
from concurrent.futures import Future, ThreadPoolExecutor

from assist.base.closing import Closing
from assist.base.images import ColourImage
from assist.pose import Pose
from assist.run.repeat.camera_shift import CameraShift, ShiftFinder

_EVERY_S = 4.0
_ZOOMED = 0.01
_TIMES = 2
"""How often in a row it has to be seen: a crowd or a cloud can look like it once."""


class CameraWatch(Closing):
    """Compares a feed's pictures with one of them."""

    def __init__(self, picture: ColourImage, pose: Pose | None, focal_px: float) -> None:
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="camera watch")
        self._finder = self._pool.submit(ShiftFinder, picture, pose, focal_px)
        self._task: Future[CameraShift | None] | None = None
        self._last_s = -math.inf
        self._times = 0

    def changed(self, picture: ColourImage, pose: Pose | None, time_s: float) -> bool:
        """Whether the camera has moved or been zoomed since; returns at once."""
        if self._task is not None and self._task.done():
            shift, self._task = self._task.result(), None
            self._times = self._times + 1 if _other(shift) else 0
        if self._task is None and time_s - self._last_s >= _EVERY_S:
            self._last_s = time_s
            self._task = self._pool.submit(self._compare, picture, pose)
        return self._times >= _TIMES

    def _compare(self, picture: ColourImage, pose: Pose | None) -> CameraShift | None:
        return self._finder.result().compare(picture, pose)

    def close(self) -> None:
        """Stop comparing; safe to call twice."""
        self._pool.shutdown(wait=False, cancel_futures=True)


def _other(shift: CameraShift | None) -> bool:
    """Whether it shows another place or zoom; a scene that is not recognised shows nothing."""
    return shift is not None and (shift.moved or abs(shift.zoom - 1) > _ZOOMED)
