"""The pacer of words: they neither flicker nor contradict themselves within a second.

What is told is decided here once, for screen, sound, speech, phone, terminal and video alike.
"""

from __future__ import annotations

from collections.abc import Collection

from assist.guidance.guide import Action

CONTRADICTION_S = 1.0
"""How long after a word its contrary is held back; a person needs as long to take one in."""
SETTLE_S = 0.25
"""How long a new word must be the right one before it is shown."""
STOP_READ_S = 0.3
"""The same of "stop", which is short, and right only while somebody walks."""
READ_S = 0.6
"""How long a word stays, so that it can be read: twice the 0.3 s that a word of one syllable takes
to be named (common practice, no source). It also keeps the panel's changes below two a second."""
FRAMED_S = 0.5
"""How long somebody must stand in the frame, or out of it, before they are told so."""

_STAY = frozenset({Action.HOLD, Action.STOP, Action.REFRAME})
_MOVE = frozenset({Action.FORWARD, Action.BACK, Action.AGAIN})


def contradict(one: Action, other: Action) -> bool:
    """Whether two words tell the person to do contrary things."""
    if one is other:
        return False
    if one in _MOVE and other in _MOVE:
        return True
    # "Forward" then "stop" is how a walk ends; "stop" then "forward" is not.
    return one in _STAY and other in _MOVE


class SteadyWord:
    """The word to show, given the word that would be right at each moment.

    A word lasts for a quarter of a second before it is shown, and is then shown for READ_S. But
    "stop" is shown at once, and so is that there is no news; and "hold" is taken back at once,
    because an old one must not outlive its reason: the picture would be lost. A contrary word
    within a second of the last is shown as "not sure" until the second is over. A word that sends
    somebody the wrong way by now goes at once, too.
    """

    def __init__(self) -> None:
        self._shown = Action.NO_ONE
        self._shown_since_s = self._stopped_s = float("-inf")
        self._last_order = Action.NO_ONE  # the last word that was not doubt
        self._last_order_s = float("-inf")
        self._candidate = Action.NO_ONE
        self._candidate_since_s = float("-inf")

    def update(
        self, time_s: float, right: Action, wrong: Collection[Action] = frozenset()
    ) -> Action:
        """The word to show now.

        wrong: orders that would send the person the wrong way from where they are by now.
        """
        if self._shown in wrong:
            self._shown, self._shown_since_s = Action.NOT_SURE, float("-inf")
        if right is not self._candidate:
            self._candidate, self._candidate_since_s = right, time_s
        next_word = self._next(time_s, right)
        if next_word is not self._shown and self._may_change(time_s, next_word):
            self._shown, self._shown_since_s = next_word, time_s
        if self._shown is Action.STOP:
            self._stopped_s = time_s
        if self._shown in _STAY or self._shown in _MOVE:
            self._last_order, self._last_order_s = self._shown, time_s
        return self._shown

    def _next(self, time_s: float, right: Action) -> Action:
        """The word to go over to; the one that is shown where there is none yet."""
        at_once = right in (Action.NOT_SURE, Action.NO_ONE, Action.NO_FEED, Action.STOP)
        lasting = time_s - self._candidate_since_s >= SETTLE_S
        if right is not self._shown and (at_once or lasting):
            fresh = time_s - self._last_order_s < CONTRADICTION_S
            return Action.NOT_SURE if fresh and contradict(self._last_order, right) else right
        # Waiting for the new word to last must not keep an old "hold" on the screen.
        stale = self._shown in _STAY and right in _MOVE
        return Action.NOT_SURE if stale else self._shown

    def _may_change(self, time_s: float, next_word: Action) -> bool:
        """Whether the word on show has been there long enough, or must go at once."""
        if next_word is Action.STOP and time_s - self._stopped_s < READ_S:
            return False  # it was on show a moment ago: they have stopped, or it was none
        if next_word in (Action.STOP, Action.NO_FEED):
            return True
        if self._shown in (Action.HOLD, Action.REFRAME):
            return True
        read_s = STOP_READ_S if self._shown is Action.STOP else READ_S
        return time_s - self._shown_since_s >= read_s


class SteadyFraming:
    """Whether the picture may be taken as somebody stands in it: it must have been so for a while.

    At the edge of what is allowed, the word would go to and fro with every breath.
    """

    def __init__(self) -> None:
        self._allowed: bool | None = None
        self._candidate = False
        self._since_s = 0.0

    def update(self, time_s: float, allowed: bool | None) -> bool:
        """Whether it holds, given whether it does in this picture; None: nobody is seen."""
        if allowed is None:
            self._allowed = None
            return True
        if self._allowed is None:
            self._allowed = self._candidate = allowed
        elif allowed is not self._candidate:
            self._candidate, self._since_s = allowed, time_s
        elif time_s - self._since_s >= FRAMED_S:
            self._allowed = allowed
        return self._allowed
