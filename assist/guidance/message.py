"""One frame's message to the person: the facts, and every word of it, made once."""

from __future__ import annotations

from dataclasses import dataclass

from assist.guidance.assistant import Moment
from assist.guidance.countdown import CountdownState, Turn
from assist.guidance.guide import Action


@dataclass(frozen=True, slots=True)
class Message:
    """What every listener tells in its own way; it lays words out, and makes none.

    time_s: on the feed's clock; never goes back.   countdown: None when none has been started.
    gesture_progress: how far a gesture in hand is, from 0 to 1.

    For the eye:
    big_word: the action in one word.   length: the one length to show, "" for none.
    sentence: what to do.   why: the reason.   caution: a warning, or nothing.
    also: further advice, the most useful first.   troubles: what has just failed, the newest last.
    news: what has come of what the person asked for, or of the last picture.
    count: the countdown in one word or figure.   warning: what it is to be warned of.

    For the ear, "" where there is nothing to say:
    spoken: what to do, warning included, short and without reasons.   advice_spoken: the first of
    the further advice.   trouble_spoken: what has just failed.   news_spoken: see news.
    turn, turn_spoken: what the countdown has come to, where that is to be said.

    who: whom of several people the action is for, in words; "" where that is no question.
    said_by_word: whether big word and length say all that the sentence says.
    news_moves: whether the news tells somebody where to go.
    """

    moment: Moment
    time_s: float
    countdown: CountdownState | None
    gesture_progress: float
    big_word: str
    length: str
    sentence: str
    why: str
    caution: str
    also: tuple[str, ...]
    troubles: tuple[str, ...]
    news: str
    count: str
    warning: str
    spoken: str
    advice_spoken: str
    trouble_spoken: str
    news_spoken: str
    turn: Turn | None
    turn_spoken: str
    who: str = ""
    said_by_word: bool = False
    news_moves: bool = False

    @property
    def action(self) -> Action:
        """What to do, as a fact."""
        return self.moment.guidance.action

    @property
    def in_trouble(self) -> bool:
        """Whether something has just failed, or no news comes from the feed."""
        return bool(self.troubles) or self.action is Action.NO_FEED
