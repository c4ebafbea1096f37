"""What is worth saying aloud at this moment; a decision by the clock passed in, with no sound."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.guidance.countdown import Turn
from assist.guidance.guide import Action
from assist.guidance.message import Message

LEAST_GAP_S = 1.0
"""Two instructions never begin closer together than this, so no word is taken back at once."""
AGAIN_S = 4.0
"""An instruction whose figure has changed is said again after so long, not sooner."""
ADVICE_AFTER_S, ADVICE_AGAIN_S, ADVICE_SETTLE_S = 2.0, 6.0, 1.0
"""Advice waits for so long after an order, and after other advice; and has to last to be said."""
NUMBERS = (10, 5, 3, 2, 1)
"""Seconds of the countdown that are said."""

_SETTLE_S = {Action.NOT_SURE: 1.5, Action.NO_ONE: 1.5}
"""How long these must last. Guidance has seen to it already that the others do not flicker."""
_NUMBER_LATE_S = 0.25
_EVENT_LATE_S = 2.0


@dataclass(frozen=True, slots=True)
class Utterance:
    """A sentence to say now.   interrupts: whether what is being said gives way to it."""

    text: str
    interrupts: bool


class Talk:
    """Chooses sentences. It keeps no queue: what could not be said in time is never said.

    "Stop" is said at once, whatever has just been said: it ends a walk and contradicts no order to
    walk. Other orders come a second or more after the last instruction; doubt and "no one" have to
    last longer to be worth a word. The same order again only when its figure has changed, and not
    too often: quiet when nothing changes. Turns of the countdown ("taken", "paused", "not in
    focus") go before orders; its figures come between where they can be in time, and advice where
    there is quiet.
    """

    def __init__(self) -> None:
        self._action: Action | None = None
        self._since_s = -math.inf
        self._said_action: Action | None = None
        self._said_to = ""
        self._said_text = ""
        self._said_s = -math.inf
        self._shown: int | None = None
        self._shown_s = -math.inf
        self._number: int | None = None
        self._turns: tuple[Turn, ...] = ()
        self._event = ""
        self._event_s = -math.inf
        self._trouble = ""
        self._news = ""
        self._advice_since_s: float | None = None
        self._advised_text = ""
        self._advised_s = -math.inf

    def next(self, now_s: float, message: Message, speaking: bool) -> Utterance | None:
        """The sentence to begin now, if any. `speaking`: whether one is being said."""
        self._notice(now_s, message)
        return (
            self._happened(now_s, speaking)
            or self._change(now_s, message, speaking)
            or self._count(now_s, speaking)
            or self._repeat(now_s, message, speaking)
            or self._advise(now_s, message, speaking)
        )

    def _notice(self, now_s: float, message: Message) -> None:
        countdown = message.countdown
        if message.action is not self._action:
            self._action, self._since_s = message.action, now_s
        if message.turn is not None and message.turn not in self._turns:
            self._event, self._event_s = message.turn_spoken, now_s
        self._turns = () if countdown is None else countdown.turns
        if message.trouble_spoken and message.trouble_spoken != self._trouble:
            came_with = f"{self._event} " if self._event and self._event_s == now_s else ""
            self._event, self._event_s = came_with + message.trouble_spoken, now_s
        self._trouble = message.trouble_spoken
        if message.news_spoken and message.news_spoken != self._news:
            self._event, self._event_s = message.news_spoken, now_s
        self._news = message.news_spoken
        shown = countdown.shown if countdown is not None and countdown.counting else None
        if shown != self._shown:
            self._shown, self._shown_s = shown, now_s
            self._number = shown if shown in NUMBERS else None

    def _happened(self, now_s: float, speaking: bool) -> Utterance | None:
        event = self._event
        if not event:
            return None
        if now_s - self._event_s > _EVENT_LATE_S:
            self._event = ""
            return None
        if now_s - self._said_s < LEAST_GAP_S:
            return None
        self._event = ""
        self._said_s = now_s
        return Utterance(event, speaking)

    def _change(self, now_s: float, message: Message, speaking: bool) -> Utterance | None:
        action = message.action
        if self._said(message) or not message.spoken:
            return None
        settled = now_s - self._since_s >= _SETTLE_S.get(action, 0.0)
        early = now_s - self._said_s < LEAST_GAP_S and action is not Action.STOP
        if early or not settled:
            return None
        return self._say(now_s, message, speaking)

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
        return Utterance(str(number), False)

    def _repeat(self, now_s: float, message: Message, speaking: bool) -> Utterance | None:
        if speaking or now_s - self._said_s < AGAIN_S or not message.spoken:
            return None
        if not self._said(message) or message.spoken == self._said_text:
            return None
        return self._say(now_s, message, False)

    def _advise(self, now_s: float, message: Message, speaking: bool) -> Utterance | None:
        """Sideways, framing and the rest: when the order itself has been said and there is time."""
        advice, countdown = message.advice_spoken, message.countdown
        if not advice or message.action is Action.STOP:
            self._advice_since_s = None
            return None
        if self._advice_since_s is None:
            self._advice_since_s = now_s
        settled = now_s - self._advice_since_s >= ADVICE_SETTLE_S
        early = now_s - self._said_s < ADVICE_AFTER_S or now_s - self._advised_s < ADVICE_AGAIN_S
        ending = countdown is not None and countdown.counting and countdown.seconds_left < 4.0
        same = advice == self._advised_text or not self._said(message)
        if speaking or early or ending or same or not settled:
            return None
        self._advised_text, self._advised_s = advice, now_s
        self._said_s = now_s
        return Utterance(advice, False)

    def _said(self, message: Message) -> bool:
        """Whether the last order was this one, to the same person."""
        return message.action is self._said_action and message.who == self._said_to

    def _say(self, now_s: float, message: Message, interrupts: bool) -> Utterance:
        self._said_action, self._said_text = message.action, message.spoken
        self._said_to = message.who
        self._said_s = now_s
        return Utterance(message.spoken, interrupts)
