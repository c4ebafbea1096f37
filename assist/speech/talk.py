"""What is worth saying aloud at this moment; a decision by the clock passed in, with no sound."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.countdown import CountdownState
from assist.guidance import Guidance
from assist.phrases import Phrases

LEAST_GAP_S = 1.0
"""Two instructions never begin closer together than this, so no word is taken back at once."""
AGAIN_S = 4.0
"""An instruction whose figure has changed is said again after so long, not sooner."""
NUMBERS = (10, 5, 3, 2, 1)
"""Seconds of the countdown that are said."""

_SETTLE_S = {"hold": 0.0, "stop": 0.0, "forward": 0.25, "back": 0.25}
_SETTLE_ELSE_S = 1.5
_NUMBER_LATE_S = 0.25
_TAKEN_LATE_S = 2.0


@dataclass(frozen=True, slots=True)
class Utterance:
    """A sentence to say now.   interrupts: whether what is being said gives way to it."""

    text: str
    interrupts: bool


class Talk:
    """Chooses sentences. It keeps no queue: what could not be said in time is never said.

    Said at once: "stop" and "hold". A direction is said once it has lasted a quarter of a second,
    doubt and "no one" once they have lasted longer. The same direction again only when its figure
    has changed, and not too often: quiet when nothing changes. The countdown's figures come between
    these where they can be in time.
    """

    def __init__(self, phrases: Phrases) -> None:
        self._phrases = phrases
        self._action = ""
        self._since_s = -math.inf
        self._said_action = ""
        self._said_text = ""
        self._said_s = -math.inf
        self._shown: int | None = None
        self._shown_s = -math.inf
        self._number: int | None = None
        self._fired = False
        self._taken_s: float | None = None

    def next(
        self, now_s: float, guidance: Guidance, countdown: CountdownState | None, speaking: bool
    ) -> Utterance | None:
        """The sentence to begin now, if any. `speaking`: whether one is being said."""
        self._notice(now_s, guidance, countdown)
        return (
            self._taken(now_s, speaking)
            or self._change(now_s, guidance, speaking)
            or self._count(now_s, speaking)
            or self._repeat(now_s, guidance, speaking)
        )

    def _notice(self, now_s: float, guidance: Guidance, countdown: CountdownState | None) -> None:
        if guidance.action.value != self._action:
            self._action, self._since_s = guidance.action.value, now_s
        fired = countdown is not None and countdown.fired
        if fired and not self._fired:
            self._taken_s = now_s
        self._fired = fired
        shown = None if countdown is None or fired else countdown.shown
        if shown != self._shown:
            self._shown, self._shown_s = shown, now_s
            self._number = shown if shown in NUMBERS else None

    def _taken(self, now_s: float, speaking: bool) -> Utterance | None:
        if self._taken_s is None:
            return None
        late = now_s - self._taken_s > _TAKEN_LATE_S
        if not late and now_s - self._said_s < LEAST_GAP_S:
            return None
        self._taken_s = None
        if late:
            return None
        self._said_s = now_s
        return Utterance(self._phrases.text("spoken.taken"), speaking)

    def _change(self, now_s: float, guidance: Guidance, speaking: bool) -> Utterance | None:
        action = guidance.action.value
        if action == self._said_action or not guidance.spoken:
            return None
        settled = now_s - self._since_s >= _SETTLE_S.get(action, _SETTLE_ELSE_S)
        if not settled or now_s - self._said_s < LEAST_GAP_S:
            return None
        return self._say(now_s, guidance, speaking)

    def _count(self, now_s: float, speaking: bool) -> Utterance | None:
        number = self._number
        if number is None:
            return None
        if now_s - self._shown_s > _NUMBER_LATE_S:
            self._number = None
            return None
        if speaking:
            return None
        self._number = None
        return Utterance(self._phrases.text("spoken.countdown", seconds=number), False)

    def _repeat(self, now_s: float, guidance: Guidance, speaking: bool) -> Utterance | None:
        same = guidance.action.value == self._said_action and guidance.spoken == self._said_text
        if speaking or same or not guidance.spoken or now_s - self._said_s < AGAIN_S:
            return None
        if guidance.action.value != self._said_action:
            return None  # a change, which has its own rules
        return self._say(now_s, guidance, False)

    def _say(self, now_s: float, guidance: Guidance, interrupts: bool) -> Utterance:
        self._said_action, self._said_text = guidance.action.value, guidance.spoken
        self._said_s = now_s
        return Utterance(guidance.spoken, interrupts)
