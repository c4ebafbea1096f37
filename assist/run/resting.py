"""When a live run has time to rest: somebody stands and is told to hold, or nobody is there."""

from __future__ import annotations

from assist.guidance.assistant import Moment
from assist.guidance.guide import Action
from assist.pose.rest import Rest, Settled

_SAME_FOR_S = 1.0
"""How long the word must have been the same."""


class Resting:
    """Hears each moment of a picture that was looked at, and lets the pose network rest or not."""

    def __init__(self) -> None:
        self.rest = Rest()
        self._word: Action | None = None
        self._since_s = 0.0

    def hear(self, moment: Moment, *, busy: bool) -> None:
        """busy: whether something is under way that wants every picture, as the timer's end."""
        time_s, word = moment.frame.time_s, moment.guidance.action
        if word is not self._word:
            self._word, self._since_s = word, time_s
        settled = not busy and time_s - self._since_s >= _SAME_FOR_S
        self.rest.settled = _settled(moment) if settled else None


def _settled(moment: Moment) -> Settled | None:
    if moment.group is not None or not moment.sure_who or moment.teaching is not None:
        return None
    if moment.guidance.action is Action.NO_ONE:
        return Settled()
    # Whoever is told to move is about to.
    holds = moment.guidance.action is Action.HOLD
    if holds and moment.pose is not None and moment.person.still:
        return Settled(within_px=moment.pose.box_px)
    return None
