"""The guide to an earlier picture during a run: the ghost, and what to do to the camera."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor

from assist.phrases import Phrases
from assist.pose import ColourImage, Pose
from assist.repeat.camera_shift import CameraShift, ShiftFinder
from assist.repeat.earlier import Earlier
from assist.repeat.ghost import Ghost
from assist.repeat.words import to_do

_EVERY_S = 1.0
STRENGTH_STEP = 0.2
_ZOOMED = 0.02
"""Distances are wrong by as much as the focal length: this much is about what they are sure to."""


class RepeatGuide:
    """Compares the feed with the earlier picture once a second, on a thread of its own."""

    def __init__(
        self, earlier: Earlier, focal_px: float, say: Phrases, strength: float = 0.6
    ) -> None:
        self._say = say
        self.ghost = Ghost(earlier.picture, earlier.pose, strength)
        self._finder = ShiftFinder(earlier.picture, earlier.pose, focal_px)
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="repeat")
        self._task: Future[CameraShift | None] | None = None
        self._last_s = float("-inf")
        self.shift: CameraShift | None = None
        self._known = False

    def watch(self, picture: ColourImage, pose: Pose | None, time_s: float) -> None:
        """Take note of the feed's newest picture; returns at once."""
        if self._task is not None and self._task.done():
            self.shift, self._known = self._task.result(), True
            self._task = None
        if self._task is None and time_s - self._last_s >= _EVERY_S:
            self._last_s = time_s
            self._task = self._pool.submit(self._finder.compare, picture, pose)

    def words(self) -> tuple[str, ...]:
        """What to do to the camera, in short lines; none while that is not known."""
        return to_do(self.shift, self._say) if self._known else ()

    @property
    def zoomed(self) -> bool:
        """Whether the feed shows things larger or smaller than then, so that distances are off."""
        return self.shift is not None and abs(self.shift.zoom - 1) > _ZOOMED

    def close(self) -> None:
        """Stop comparing; safe to call twice."""
        self._pool.shutdown(wait=False, cancel_futures=True)
