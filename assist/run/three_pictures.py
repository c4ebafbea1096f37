"""Three test pictures that find the plane of focus: one from before it, then one on either side.

A blur tells how far off somebody stands, not on which side. From clearly in front of where the
plane may lie, the first picture leaves one side; the next two stand where blur changes most with
distance, so that what is the same in all of them cancels out. Simulation of the three places:
`tests/optics/test_plane_of_focus.py`.
"""

from __future__ import annotations

from collections.abc import Callable

from assist.guidance.assistant import Assistant
from assist.guidance.picture_news import TestPicture
from optics.focus_zone import FocusZone
from optics.plane_of_focus import circles_of_confusion

PLACES = (-1.5, 1.0, -1.0)
"""Where to stand, in half depths of the zone behind the best guess of the plane of focus."""
_MOST_TRIES = 9


class ThreePictures:
    """Asks for one picture after another until three have taught.

    start_timer: starts the self-timer at a time of the feed's clock.   done: called at the end.
    """

    def __init__(
        self,
        zone: FocusZone,
        assistant: Assistant,
        start_timer: Callable[[float], None],
        done: Callable[[], None],
    ) -> None:
        self._half = 1.0 / circles_of_confusion(zone)
        self._best_m = zone.best_m
        self._assistant = assistant
        self._start_timer = start_timer
        self._done = done
        self._tries = 0
        self._asked: TestPicture | None = None

    def begin(self, time_s: float) -> None:
        """Ask for the first picture."""
        self._ask(time_s, 0, None)

    @property
    def asked(self) -> TestPicture | None:
        """What is asked for now."""
        return self._asked

    def update(self, time_s: float, answered: int) -> None:
        """Go on once the picture that was asked for has been looked at.

        answered: how many pictures have been looked at in all.
        """
        if self._asked is None or answered < self._tries:
            return
        learned = len(self._assistant.plane.lessons)
        if learned >= len(PLACES) or self._tries >= _MOST_TRIES:
            self._asked = None
            self._done()
            return
        self._ask(time_s, learned, self._last_place())

    def _last_place(self) -> float | None:
        """Where the person stood last, over the stated focus distance; None: not known."""
        lessons = self._assistant.plane.lessons
        return lessons[-1].ratio if lessons else None

    def _ask(self, time_s: float, number: int, last: float | None) -> None:
        belief = self._assistant.plane.belief
        best = 1.0 if belief is None else belief.ratio
        target = best * (1 + PLACES[number] * self._half)
        move_m = (target - (1.0 if last is None else last)) * self._best_m
        self._asked = TestPicture(number + 1, len(PLACES), move_m, from_mark=last is None)
        self._tries += 1
        self._start_timer(time_s)
