"""The guide to an earlier picture during a run: the ghost, and what to do to the camera."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from assist.errors import UserError
from assist.phrases import Phrases
from assist.pose import ColourImage, Pose
from assist.repeat.camera_shift import ShiftFinder
from assist.repeat.earlier import Earlier
from assist.repeat.ghost import Ghost
from assist.repeat.words import to_do

_EVERY_S = 1.0
STRENGTH_STEP = 0.2

FocalPx = Callable[[int, int], float]
"""Focal length of the feed, in pixels of a picture of its that wide and high. It raises UserError
for a shape that the feed's profile was not learned at."""


class RepeatGuide:
    """Compares the feed with the earlier picture once a second, on a thread of its own."""

    def __init__(
        self, earlier: Earlier, focal_px: FocalPx, say: Phrases, strength: float = 0.6
    ) -> None:
        self._say = say
        self.ghost = Ghost(earlier, strength)
        self._earlier = earlier
        self._focal_px = focal_px
        self._finder: ShiftFinder | str = ""
        self._made_for = (0, 0)
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="repeat")
        self._task: Future[tuple[str, ...]] | None = None
        self._last_s = float("-inf")
        self._words: tuple[str, ...] = ()

    def watch(self, picture: ColourImage, pose: Pose | None, time_s: float) -> None:
        """Take note of the feed's newest picture; returns at once."""
        if self._task is not None and self._task.done():
            self._words = self._task.result()
            self._task = None
        if self._task is None and time_s - self._last_s >= _EVERY_S:
            self._last_s = time_s
            self._task = self._pool.submit(self._compare, picture, pose)

    def words(self) -> tuple[str, ...]:
        """What to do to the camera, in short lines; none while that is not known."""
        return self._words

    def _compare(self, picture: ColourImage, pose: Pose | None) -> tuple[str, ...]:
        height, width = picture.shape[:2]
        if self._made_for != (width, height):
            self._made_for = (width, height)
            self._finder = self._finder_for(width, height)
        finder = self._finder
        if isinstance(finder, str):
            return (self._say.text(finder),)
        return to_do(finder.compare(picture, pose), self._say)

    def _finder_for(self, width: int, height: int) -> ShiftFinder | str:
        """What compares with a feed of that shape, or the phrase that says why nothing does."""
        seen = self._earlier.seen_by_feed(width, height)
        if seen is None:
            return "repeat.other_way"
        height, width = seen.picture.shape[:2]
        try:
            focal_px = self._focal_px(width, height)
        except UserError:
            return "repeat.other_shape"
        return ShiftFinder(seen.picture, seen.pose, focal_px)

    def close(self) -> None:
        """Stop comparing; safe to call twice."""
        self._pool.shutdown(wait=False, cancel_futures=True)
