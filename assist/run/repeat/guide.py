"""The guide to an earlier picture during a run: the ghost, and what to do to the camera."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.guidance.camera_hints import CameraHint, Hint
from assist.pose import Pose
from assist.run.repeat.camera_shift import CameraShift, ShiftFinder
from assist.run.repeat.earlier import Earlier
from assist.run.repeat.ghost import Ghost
from assist.run.repeat.hints import to_do

_EVERY_S = 1.0
_ZOOMED = 0.02
"""Distances are wrong by as much as the focal length: this much is about what they are sure to."""

FocalPx = Callable[[int, int], float]
"""Focal length of the feed, in pixels of a picture of its that wide and high. It raises UserError
for a shape that the feed's profile was not learned at."""


class RepeatGuide:
    """Compares the feed with the earlier picture once a second, on a thread of its own."""

    def __init__(self, earlier: Earlier, focal_px: FocalPx, strength: float = 0.6) -> None:
        self.ghost = Ghost(earlier, strength)
        self._earlier = earlier
        self._focal_px = focal_px
        self._finder: ShiftFinder | Hint = Hint.UNKNOWN
        self._made_for = (0, 0)
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="repeat")
        self._task: Future[CameraShift | Hint | None] | None = None
        self._last_s = float("-inf")
        self._known = False
        self.found: CameraShift | Hint | None = None

    def watch(self, picture: ColourImage, pose: Pose | None, time_s: float) -> None:
        """Take note of the feed's newest picture; returns at once."""
        if self._task is not None and self._task.done():
            self.found, self._known = self._task.result(), True
            self._task = None
        if self._task is None and time_s - self._last_s >= _EVERY_S:
            self._last_s = time_s
            self._task = self._pool.submit(self._compare, picture, pose)

    def hints(self) -> tuple[CameraHint, ...]:
        """What to do to the camera; nothing while that is not known."""
        if not self._known:
            return ()
        return (CameraHint(self.found),) if isinstance(self.found, Hint) else to_do(self.found)

    def _compare(self, picture: ColourImage, pose: Pose | None) -> CameraShift | Hint | None:
        """How the camera differs, None where that is not to be told, or the hint that says why.

        On the thread of the comparisons.
        """
        height, width = picture.shape[:2]
        if self._made_for != (width, height):
            self._made_for = (width, height)
            self._finder = self._finder_for(width, height)
        finder = self._finder
        return finder if isinstance(finder, Hint) else finder.compare(picture, pose)

    def _finder_for(self, width: int, height: int) -> ShiftFinder | Hint:
        """What compares with a feed of that shape, or the hint that says why nothing does."""
        seen = self._earlier.seen_by_feed(width, height)
        if seen is None:
            return Hint.OTHER_WAY
        height, width = seen.picture.shape[:2]
        try:
            focal_px = self._focal_px(width, height)
        except UserError:
            return Hint.OTHER_SHAPE
        return ShiftFinder(seen.picture, seen.pose, focal_px)

    @property
    def zoomed(self) -> bool:
        """Whether the feed shows things larger or smaller than then, so that distances are off.

        By pictures of the feed alone: how much of the sensor a video shows is known to a few per
        cent, and a picture of the camera's differs by that.
        """
        of_feed, found = self._earlier.sensor is None, self.found
        return of_feed and isinstance(found, CameraShift) and abs(found.zoom - 1) > _ZOOMED

    def close(self) -> None:
        """Stop comparing; safe to call twice."""
        self._pool.shutdown(wait=False, cancel_futures=True)
