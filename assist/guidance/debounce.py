"""Keeps words steady: they neither flicker nor contradict themselves within a second."""

from __future__ import annotations

from assist.guidance.guide import Action

CONTRADICTION_S = 1.0
"""How long after a word its contrary is held back; a person needs as long to take one in."""
SETTLE_S = 0.25
"""How long a new word must be the right one before it is shown."""
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

    Doubt is shown at once, because an old "hold" must not outlive its reason; so is "stop". Any
    other word has to last for a quarter of a second. A contrary word within a second of the last is
    shown as "not sure" until the second is over.
    """

    def __init__(self) -> None:
        self._shown = Action.NO_ONE
        self._last_order = Action.NO_ONE  # the last word that was not doubt
        self._last_order_s = float("-inf")
        self._candidate = Action.NO_ONE
        self._candidate_since_s = float("-inf")

    def update(self, time_s: float, right: Action) -> Action:
        """The word to show now."""
        if right is not self._candidate:
            self._candidate, self._candidate_since_s = right, time_s
        at_once = right in (Action.NOT_SURE, Action.NO_ONE, Action.NO_FEED, Action.STOP)
        lasting = time_s - self._candidate_since_s >= SETTLE_S
        if right is not self._shown and (at_once or lasting):
            fresh = time_s - self._last_order_s < CONTRADICTION_S
            if fresh and contradict(self._last_order, right):
                right = Action.NOT_SURE
            self._shown = right
        elif self._shown in _STAY and right in _MOVE:
            # Waiting for the new word to last must not keep an old "hold" on the screen.
            self._shown = Action.NOT_SURE
        if self._shown in _STAY or self._shown in _MOVE:
            self._last_order, self._last_order_s = self._shown, time_s
        return self._shown


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
