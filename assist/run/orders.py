"""The person's orders to a run: keys at the window, and gestures before the camera."""

from __future__ import annotations

from collections.abc import Callable

from assist.base.words import Words
from assist.guidance.countdown import Countdown
from assist.output.display import Display
from assist.pose import Pose
from assist.pose.gesture import Gesture, GestureWatch, OrderBy
from assist.run.repeat.ghost import Ghost

_GHOST_STEP = 0.2


def key_line(say: Words, *, timer: bool, ghost: bool) -> str:
    """The line on the screen about the keys that do something in this run, side by side."""
    _ = say.gettext
    keys = (
        (timer, _("T timer")),
        (True, _("H I'm on the mark")),
        (ghost, _("+ - earlier picture")),
        (True, _("M mirror")),
        (True, _("F full screen")),
        (True, _("Q quit")),
    )
    return "    ".join(key for useful, key in keys if useful)


class Orders:
    """Obeys keys and gestures.

    by: the gesture that starts and pauses the timer; None for none.   countdown: the timer, None
    for none.   end: ends the run.   on_mark: called when the person says that they stand on the
    mark.   mark_first: whether the gesture says that, not that the timer is to start.
    """

    def __init__(
        self,
        by: OrderBy | None,
        countdown: Countdown | None,
        end: Callable[[], None],
        on_mark: Callable[[float], None],
        mark_first: Callable[[], bool],
    ) -> None:
        self._on_mark = on_mark
        self._mark_first = mark_first
        self._gestures = None if by is None else GestureWatch(by)
        self._countdown = countdown
        self._end = end

    def watch(self, pose: Pose | None, seen_s: float, now_s: float) -> None:
        """Look at the next picture's person, and obey a gesture that is complete.

        seen_s: time of the picture.   now_s: time by which the timer goes.
        """
        if self._gestures is None:
            return
        gesture = self._gestures.update(seen_s, pose)
        if gesture is Gesture.END:
            self._end()
        elif gesture is Gesture.START_OR_PAUSE and self._mark_first():
            self._on_mark(now_s)
        elif gesture is Gesture.START_OR_PAUSE:
            self._start_or_pause(now_s)

    def progress(self, now_s: float) -> float:
        """How far the gesture in hand is, from 0 to 1."""
        return 0.0 if self._gestures is None else self._gestures.progress(now_s)

    def obey_key(self, display: Display, ghost: Ghost | None, now_s: float) -> None:
        """Do what was asked for at the window."""
        key = display.key
        if key in ("q", "escape") or display.closed:
            self._end()
        elif key == "m":
            display.toggle_mirror()
        elif key == "f":
            display.toggle_full_screen()
        elif key in ("+", "=", "-") and ghost is not None:
            ghost.change(-_GHOST_STEP if key == "-" else _GHOST_STEP)
        elif key == "h":
            self._on_mark(now_s)
        elif key in ("t", " "):
            self._start_or_pause(now_s)

    def _start_or_pause(self, now_s: float) -> None:
        if self._countdown is None:
            return
        if self._countdown.running:
            self._countdown.pause()
        else:
            self._countdown.start(now_s)
