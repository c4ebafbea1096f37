"""Which attempt of a session's record each picture belongs to, though the clocks disagree.

The camera's clock is rarely right, but wrong by the same amount for every picture of a set. The
offset at which most pictures meet an attempt is the one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

MEETS_WITHIN_S = 3.0
"""A shutter that a remote or a self-timer fires follows the countdown by about this at most."""
_NEAR_ENOUGH_S = 90.0
"""With too few pictures to find an offset from the set, clocks this near are believed as they are.
"""


@dataclass(frozen=True, slots=True)
class Match:
    """The clocks' difference (camera less record, seconds) and each picture's attempt, or None.

    certain: whether the set itself fixed the offset.
    """

    offset_s: float
    attempts: tuple[int | None, ...]
    certain: bool


def seconds(moment: datetime) -> float:
    """Seconds on the wall clock of the moment's own zone; a time without a zone is taken as such.

    Camera times seldom carry a zone, so all are compared as what a clock on the wall showed; a
    zone that one of them got wrong is part of the offset.
    """
    return (moment.replace(tzinfo=None) - datetime(2000, 1, 1)).total_seconds()


def match(
    pictures: Sequence[datetime | None], attempts: Sequence[tuple[int, datetime]]
) -> Match | None:
    """Match pictures with attempts (number, time); None where nothing can be matched."""
    taken = np.array([np.nan if p is None else seconds(p) for p in pictures])
    known = np.flatnonzero(~np.isnan(taken))
    if not known.size or not attempts:
        return None
    fired = np.array([seconds(moment) for _, moment in attempts])
    offset, met = _best_offset(taken[known], fired)
    # Two meetings at one offset can be chance where there are many times; half of the set cannot.
    certain = met >= 2 and met >= 0.5 * min(len(set(taken[known])), fired.size)
    if not certain:
        if abs(offset) > _NEAR_ENOUGH_S:
            nearest = np.abs(taken[known][:, None] - fired[None]).min(axis=1)
            if nearest.min() > _NEAR_ENOUGH_S:
                return None
        close = (taken[known][:, None] - fired[None]).ravel()
        offset = float(close[np.abs(close).argmin()])
        if abs(offset) > _NEAR_ENOUGH_S:
            return None
    numbers: list[int | None] = [None] * len(pictures)
    for index in known:
        gaps = np.abs(taken[index] - offset - fired)
        if gaps.min() <= MEETS_WITHIN_S:
            numbers[int(index)] = attempts[int(gaps.argmin())][0]
    return Match(offset, tuple(numbers), certain)


def _best_offset(taken: NDArray[np.float64], fired: NDArray[np.float64]) -> tuple[float, int]:
    """The offset at which most attempts meet a picture; of equals, the tightest, then the least."""
    gaps = (taken[:, None] - fired[None]).ravel()
    which = np.tile(np.arange(fired.size), taken.size)
    order = np.argsort(gaps, kind="stable")
    gaps, which = gaps[order], which[order]
    # `met` attempts have a picture between `start` and `end`; only as many as the best so far are
    # worth the dearer comparison.
    best: tuple[int, float, float] = (0, 0.0, 0.0)
    offset = 0.0
    end = met = 0
    counts = [0] * fired.size
    belongs = which.tolist()
    reaches = np.searchsorted(gaps, gaps + MEETS_WITHIN_S, side="right").tolist()
    for start in range(gaps.size):
        for added in belongs[end : reaches[start]]:
            counts[added] += 1
            met += counts[added] == 1
        end = reaches[start]
        if met >= best[0]:
            inside = gaps[start:end]
            middle = float(np.median(inside))
            score = (met, -float(inside[-1] - inside[0]), -abs(middle))
            if score > best or start == 0:
                best, offset = score, middle
        left = belongs[start]
        counts[left] -= 1
        met -= counts[left] == 0
    return offset, best[0]
