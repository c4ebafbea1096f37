"""What may be looked at: pictures that are pictures, new ones, at times that can be true.

A driver in trouble rarely says so. It hands out empty or foreign arrays, the same picture over and
over, or times that jump; none of that may pass for news.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assist.base.images import ColourImage
from assist.feed import Frame, Silence

LEAST_SIDE_PX = 16
LONGEST_GAP_S = 5.0
"""Of two pictures of a file; more is a damaged time stamp, not a pause."""
_EVERY_ROW = 37


def is_picture(picture: object) -> bool:
    """Whether it is a colour picture large enough to look at."""
    return (
        isinstance(picture, np.ndarray)
        and picture.dtype == np.uint8
        and picture.ndim == 3
        and picture.shape[2] == 3
        and min(picture.shape[:2]) >= LEAST_SIDE_PX
    )


def same_picture(one: ColourImage, other: ColourImage) -> bool:
    """Whether two pictures are equal to the last bit."""
    if one.shape != other.shape:
        return False
    # One row tells nearly every two pictures apart, and the person waits meanwhile; a dark one does
    # not, so a few more come before the whole.
    middle = len(one) // 2
    return (
        np.array_equal(one[middle], other[middle])
        and np.array_equal(one[::_EVERY_ROW], other[::_EVERY_ROW])
        and np.array_equal(one, other)
    )


def following(last_s: float, stamp_s: float, rate_hz: float) -> float:
    """The time of a file's next picture: its stamp, or the rate's where that cannot be true."""
    if 0.0 < stamp_s - last_s <= LONGEST_GAP_S:  # false for nan too
        return stamp_s
    return last_s + 1.0 / rate_hz


class Screening:
    """Lets the pictures of one feed through, or says why not.

    live: whether they arrive by themselves. Two pictures of a camera's sensor are never equal to
    the last bit, because of noise; a camera that gives the same one again has stopped, and the copy
    is not as fresh as it looks. In a file or a folder equal pictures can be true.
    """

    def __init__(self, live: bool, rate_hz: float) -> None:
        self._live = live
        self._rate_hz = rate_hz
        self.last: Frame | None = None
        """The last frame that was let through."""
        self.silence: Silence | None = Silence.NOT_BEGUN
        """Why the last picture was not let through; None where it was."""

    def passed(self, frame: Frame, now_s: float) -> Frame | None:
        """The frame with a time that can be true, or None. `now_s` is that of its arrival."""
        last = self.last
        if not is_picture(frame.picture):
            self.silence = Silence.GARBLED
            return None
        if self._live and last is not None and same_picture(frame.picture, last.picture):
            self.silence = Silence.FROZEN
            return None
        time_s = self._time_s(frame.time_s, None if last is None else last.time_s, now_s)
        if time_s != frame.time_s:
            frame = replace(frame, time_s=time_s)
        self.last, self.silence = frame, None
        return frame

    def _time_s(self, stamp_s: float, last_s: float | None, now_s: float) -> float:
        if self._live:
            # A picture from the future would never grow old, one of the past would always be.
            believed = (
                math.isfinite(stamp_s) and (-math.inf if last_s is None else last_s) <= stamp_s
            )
            return stamp_s if believed and stamp_s <= now_s else now_s
        if last_s is None:
            return stamp_s if math.isfinite(stamp_s) else 0.0
        return following(last_s, stamp_s, self._rate_hz)
