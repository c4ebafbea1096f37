"""Whether a stated stature can be that of the body in view, by the size of the face beside it.

Faces grow a third as much as bodies do. Of somebody who is taken to be smaller than they are, the
body therefore looks nearer than the face, and farther of somebody taken to be taller. Faces of one
stature differ too much to tell by them how tall anybody is; but they tell a slip - another person's
set-up, a mistyped figure - from a body that is as stated.
"""

from __future__ import annotations

import math

from assist.distance import BodyDistance, CueAbsent, CueReading, Size
from assist.setup.body import ADULT_STATURE_M

_SLIP = 0.015
"""How many of the statures stated are a slip, which may be any from 1 to 2 m. Assumed, no
source."""
_ADULTS_SD_M = 0.10
"""Spread of adults' statures in one country, women and men together (0.09 m, from memory, and a
little more for others). Who they are is asked here, not how wrong one of them may be taken."""
_CHILDREN = 0.15
_CHILDREN_M = (1.0, 1.6)
"""How many of those in view may be children, and how tall they are, all alike. Assumed, no
source."""
_UNUSUAL = 0.03
"""Odds of a slip from which on a stature is to be confirmed: below 1.49 m and above 1.87 m."""
_SHARED = 2 / 3
"""How much of a wrong stature the comparison shows: a face follows a third of it."""
_UNLIKE_SD = 0.05
"""By how much face and body differ, relative, where the stature is right: faces 4.5 %, proportions
2 % (`assist.setup.body`). Of seven rendered bodies the means are from -0.053 to +0.052."""
_GROWTH_SD = 0.2
"""By how much the power with which faces follow statures may differ from a third: rendered bodies'
follow by three quarters, people's by about 0.45, a child's by a quarter. It counts for statures far
from an adult's."""
_PICTURE_SD = 0.04
_INDEPENDENT_S = 0.5
"""Error of one picture, and after how long the next is another one."""
_MOST_GAP_S = 0.2
_UPRIGHT_SD = 0.04
"""A body whose own distance is less sure than this is too much folded to be compared."""
_DOUBTED_AT_ONCE, _SOON_S = 0.5, 0.5
"""What it takes in the first moment: one face at the far end of a room says little."""
_DOUBTED, _BELIEVED = 0.10, 0.06
"""Probability of a slip from which on it is doubted, and below which it is believed again: "in
focus" is said from 0.90 on."""


class StatureCheck:
    """Listens to what is measured of one person whose stature is stated, picture by picture."""

    def __init__(self, stature_m: float) -> None:
        self._stature_m = stature_m
        self._prior = _SLIP / (1 - _SLIP) / _statures_per_m(stature_m)
        self.forget()

    def forget(self) -> None:
        """Begin anew, as with another person."""
        self._sum = self._seen_s = 0.0
        self._before_s: float | None = None
        self.contradicted = False
        """Whether the stature is rather a slip than that of this body."""

    @property
    def unusual_and_unseen(self) -> bool:
        """Whether the stature is rare enough to be a slip, and no face has spoken for it yet."""
        return self._prior >= _UNUSUAL and self._seen_s <= 0

    def hear(self, time_s: float, body: BodyDistance | CueAbsent | None) -> None:
        """What the next picture told."""
        unlike = None if not isinstance(body, BodyDistance) else _body_over_face(body)
        if unlike is None:
            return
        before_s, self._before_s = self._before_s, time_s
        gap_s = _MOST_GAP_S if before_s is None else time_s - before_s
        part_s = min(max(gap_s, 0.0), _MOST_GAP_S)
        self._sum += part_s * unlike
        self._seen_s += part_s
        doubted = _DOUBTED if self._seen_s >= _SOON_S else _DOUBTED_AT_ONCE
        self.contradicted = self._slip() >= (_BELIEVED if self.contradicted else doubted)

    def _slip(self) -> float:
        """Probability that the stature is a slip."""
        if self._seen_s <= 0:
            return 0.0
        unlike = self._sum / self._seen_s
        smaller = math.log(self._stature_m / ADULT_STATURE_M)
        picture_sd = _PICTURE_SD / math.sqrt(1 + self._seen_s / _INDEPENDENT_S)
        sd = math.hypot(_UNLIKE_SD, _GROWTH_SD * smaller, picture_sd)
        anybody = _SHARED * smaller
        anybody_sd = math.hypot(sd, _SHARED * _ADULTS_SD_M / ADULT_STATURE_M)
        odds = self._prior * _normal(unlike - anybody, anybody_sd) / _normal(unlike, sd)
        return odds / (1 + odds)


def _body_over_face(body: BodyDistance) -> float | None:
    """Logarithm of the depth by the body over that by the face, where the body is upright."""
    by_size = {r.size: r for r in body.readings if isinstance(r, CueReading)}
    face, whole = by_size.get(Size.FACE), by_size.get(Size.BODY)
    if face is None or whole is None or whole.own_sd_m > _UPRIGHT_SD * whole.eyes_m:
        return None
    return math.log(whole.eyes_m / face.eyes_m)


def _statures_per_m(stature_m: float) -> float:
    """How common people of a stature are, per metre."""
    low, high = _CHILDREN_M
    children = _CHILDREN / (high - low) if low <= stature_m <= high else 0.0
    adults = _normal(stature_m - ADULT_STATURE_M, _ADULTS_SD_M)
    return max((1 - _CHILDREN) * adults + children, 1e-3)


def _normal(deviation: float, sd: float) -> float:
    return max(math.exp(-0.5 * (deviation / sd) ** 2) / (sd * math.sqrt(2 * math.pi)), 1e-300)
