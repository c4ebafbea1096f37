"""Teaching the mark: a moment's standing where the focus was set becomes the reference view."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from enum import Enum

import numpy as np

from assist.distance import BodyDistance, CueReading, Size
from assist.distance.reference import ReferenceView
from assist.pose.person_state import PersonState

WATCH_S = 1.5
"""How long somebody has to stand still to be the reference: a breath and the sway that goes with it
average out. Common practice, no source."""
GIVES_UP_S = 10.0
TOLD_S = 5.0
"""How long what came of it is told."""
_LEAST_FACES = 8
_MOVED = 0.02
"""How far apart, relative, the depths of somebody who stands still may be: twice what a picture's
error does by itself."""


class Teaching(Enum):
    """How far teaching the mark has got."""

    ASKED = "asked"
    """They are to stand still on the mark and look at the camera."""
    WATCHED = "watched"
    """They do, and are being measured."""
    TAUGHT = "taught"
    MOVED = "moved"
    TURNED = "turned"
    NO_FACE = "no face"
    SOMEBODY_ELSE = "somebody else"
    VOID = "void"
    """What was taught holds no more: the camera has moved or been zoomed."""
    UNMEASURED = "unmeasured"

    @property
    def refused(self) -> bool:
        """Whether it came to nothing."""
        return self in _REFUSED


_REFUSED = frozenset(
    {
        Teaching.MOVED,
        Teaching.TURNED,
        Teaching.NO_FACE,
        Teaching.SOMEBODY_ELSE,
        Teaching.UNMEASURED,
        Teaching.VOID,
    }
)


def went(bodies: Sequence[BodyDistance]) -> bool:
    """Whether somebody came nearer or went away meanwhile."""
    low, high = np.percentile([body.eyes_m for body in bodies], (10, 90))
    return math.log(high / low) > 2 * _MOVED


class MarkTeacher:
    """Watches somebody who says that they stand on the mark, until they have stood long enough."""

    def __init__(self) -> None:
        self._asked_s: float | None = None
        self._seen: deque[tuple[float, BodyDistance]] = deque()
        self._why_not = Teaching.UNMEASURED
        self._ended: tuple[float, Teaching] | None = None
        self._before: ReferenceView | None = None

    def ask(self, time_s: float, before: ReferenceView | None = None) -> None:
        """Begin at a time; what was begun before is dropped.

        before: the reference view that this one must be of the same person as.
        """
        self._asked_s, self._ended, self._before = time_s, None, before
        self._why_not = Teaching.UNMEASURED
        self._seen.clear()

    def void(self, time_s: float) -> None:
        """Tell that what was taught holds no more."""
        self._end(time_s, Teaching.VOID)

    @property
    def watching(self) -> bool:
        """Whether it has been asked for and is not over."""
        return self._asked_s is not None

    def state(self, time_s: float) -> Teaching | None:
        """What is to be told of it now; None for nothing."""
        if self._asked_s is not None:
            return Teaching.WATCHED if self._seen else Teaching.ASKED
        if self._ended is not None and time_s - self._ended[0] <= TOLD_S:
            return self._ended[1]
        return None

    def update(
        self, time_s: float, body: BodyDistance | None, person: PersonState, sure_who: bool
    ) -> ReferenceView | None:
        """Take in the next picture; the view, once they have stood long enough."""
        if self._asked_s is None:
            return None
        if time_s - self._asked_s > GIVES_UP_S:
            self._end(time_s, self._why_not)
            return None
        why_not = self._unfit(body, person, sure_who)
        if why_not is not None or body is None:
            self._why_not = why_not or Teaching.UNMEASURED
            self._seen.clear()
            return None
        self._seen.append((time_s, body))
        while len(self._seen) > 1 and self._seen[1][0] <= time_s - WATCH_S:
            self._seen.popleft()
        if time_s - self._seen[0][0] < WATCH_S * 0.95:
            return None
        return self._finished(time_s)

    @staticmethod
    def _unfit(body: BodyDistance | None, person: PersonState, sure_who: bool) -> Teaching | None:
        """Why this picture is no part of a reference view."""
        if not sure_who:
            return Teaching.SOMEBODY_ELSE
        if body is None:
            return Teaching.UNMEASURED
        if not person.faces_camera:
            return Teaching.TURNED
        return None if person.still else Teaching.MOVED

    def _finished(self, time_s: float) -> ReferenceView | None:
        bodies = [body for _, body in self._seen]
        readings = (reading for body in bodies for reading in body.readings)
        faces = sum(isinstance(r, CueReading) and r.size is Size.FACE for r in readings)
        if faces < _LEAST_FACES:
            self._why_not = Teaching.NO_FACE
            return None  # it may still come: the deque goes on
        if went(bodies):
            self._why_not = Teaching.MOVED
            return None
        view = ReferenceView.of(bodies)
        if self._before is not None and not self._before.fits(view):
            self._end(time_s, Teaching.SOMEBODY_ELSE)
            return None
        self._end(time_s, Teaching.TAUGHT)
        return view

    def _end(self, time_s: float, how: Teaching) -> None:
        self._asked_s, self._ended = None, (time_s, how)
        self._seen.clear()
