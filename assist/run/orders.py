"""The person's orders to a run: keys at the window, and gestures before the camera.

A gesture also tells who the person is. In doubt it chooses who makes it, and orders nothing else;
when somebody else makes it who is not followed, there is doubt, and if they go on, they are chosen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from assist.base.words import Words
from assist.distance.person_tracker import Companion
from assist.guidance.assistant import Moment
from assist.guidance.countdown import Countdown
from assist.output.display import Display
from assist.pose import Pose
from assist.pose.gesture import Gesture, GestureWatch, OrderBy
from assist.run.repeat.ghost import Ghost

_GHOST_STEP = 0.2
_LOOK_GAP_S = 0.5
"""Others are seen a few times a second only: a gesture may go unseen for so long."""


class Choosing(Protocol):
    """What follows one of several people, and can be told whom."""

    def choose(self, number: int | None = None) -> None:
        """Follow who has that number; None: who is followed is right."""
        ...

    def choose_next(self) -> None:
        """Follow the next one."""
        ...

    def ask_who(self) -> None:
        """Somebody else claims to be the person."""
        ...


def key_line(say: Words, *, timer: bool, ghost: bool) -> str:
    """The line on the screen about the keys that do something in this run, side by side."""
    _ = say.gettext
    keys = (
        (timer, _("T timer")),
        (ghost, _("+ - earlier picture")),
        (True, _("M mirror")),
        (True, _("F full screen")),
        (True, _("Q quit")),
    )
    return "    ".join(key for useful, key in keys if useful)


class Orders:
    """Obeys keys and gestures.

    by: the gesture that starts and pauses the timer; None for none.   countdown: the timer, None
    for none.   end: ends the run.   who: is told who the person is.
    """

    def __init__(
        self,
        by: OrderBy | None,
        countdown: Countdown | None,
        end: Callable[[], None],
        who: Choosing,
    ) -> None:
        self._gestures = None if by is None else GestureWatch(by)
        self._claims = None if by is None else _Claims(by)
        self._countdown = countdown
        self._end = end
        self._who = who

    def watch(self, moment: Moment, seen_s: float, now_s: float) -> None:
        """Look at the next picture's people, and obey a gesture that is complete.

        seen_s: time of the picture.   now_s: time by which the timer goes.
        """
        if self._gestures is None or self._claims is None:
            return
        claimed = self._claims.watch(moment.others, seen_s)
        if claimed is not None and moment.sure_who:
            self._who.ask_who()
        elif claimed is not None:
            self._who.choose(claimed)
            self._gestures.let_go()
            return
        gesture = self._gestures.update(seen_s, moment.pose)
        if gesture is Gesture.END:
            self._end()
        elif gesture is Gesture.START_OR_PAUSE:
            self._who.choose()
            if moment.sure_who:
                self._start_or_pause(now_s)

    def progress(self, now_s: float) -> float:
        """How far the gesture in hand is, from 0 to 1."""
        return 0.0 if self._gestures is None else self._gestures.progress(now_s)

    def obey_key(self, display: Display, ghost: Ghost | None, now_s: float) -> None:
        """Do what was asked for at the window."""
        key = display.key
        if key in ("q", "escape") or display.closed:
            self._end()
        elif key == "n":
            self._who.choose_next()
        elif key == "m":
            display.toggle_mirror()
        elif key == "f":
            display.toggle_full_screen()
        elif key in ("+", "=", "-") and ghost is not None:
            ghost.change(-_GHOST_STEP if key == "-" else _GHOST_STEP)
        elif key in ("t", " "):
            self._start_or_pause(now_s)

    def _start_or_pause(self, now_s: float) -> None:
        if self._countdown is None:
            return
        if self._countdown.running:
            self._countdown.pause()
        else:
            self._countdown.start(now_s)


class _Claims:
    """Watches the others for the gesture that says "that's me"."""

    def __init__(self, by: OrderBy) -> None:
        self._by: OrderBy = by
        self._watches: dict[int, tuple[GestureWatch, Pose]] = {}

    def watch(self, others: Sequence[Companion], time_s: float) -> int | None:
        """Number of somebody whose gesture is complete now, who may go on to make it anew."""
        before, self._watches = self._watches, {}
        claimed = None
        for other in others:
            watch, last = before.get(other.number, (None, None))
            if watch is None:
                watch = GestureWatch(self._by, _LOOK_GAP_S)
            if other.pose is not last and watch.update(time_s, other.pose) is not None:
                claimed, watch = other.number, GestureWatch(self._by, _LOOK_GAP_S)
            self._watches[other.number] = watch, other.pose
        return claimed
