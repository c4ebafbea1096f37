"""The self-timer: a state machine over the times passed in; nothing here sleeps.

It counts down in step with the camera's own timer or by itself, or waits until the person is in
focus, framed and still; and it says when a picture is due.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Literal

WARN_BEFORE_S = 3.0
"""How long before zero a person out of focus is warned."""
TOLD_BEFORE_LIMIT_S = 5.0
"""How long before the end of waiting the person is told what happens then."""

_SOON_S = 2.0

AtLimit = Literal["take", "skip"]
"""What happens when the limit of waiting has passed."""


@dataclass(frozen=True, slots=True)
class Readiness:
    """Whether all is right for the picture."""

    in_focus: bool
    framed: bool
    still: bool

    @property
    def ready(self) -> bool:
        """In focus, framed and still."""
        return self.in_focus and self.framed and self.still


NOT_READY = Readiness(False, False, False)


@dataclass(frozen=True, slots=True)
class TimerOptions:
    """How the picture comes to be taken.

    seconds: length of the countdown; None waits for readiness instead.
    lag_s: how much later than this countdown the camera's own timer fires, as measured.
    ready_for_s: how long the person must be ready, for a timer without a countdown.
    if_not_ready: what happens at zero when the person is not ready: the picture is taken all the
        same, or held back until they are.
    limit_s: the longest that a held or waiting timer waits.
    at_limit: whether the picture is then taken all the same, or none is.
    burst: pictures in a row.   burst_interval_s: time from one to the next.
    """

    seconds: float | None = 10.0
    lag_s: float = 0.0
    ready_for_s: float = 1.5
    if_not_ready: Literal["go", "hold"] = "go"
    limit_s: float = 60.0
    at_limit: AtLimit = "skip"
    burst: int = 1
    burst_interval_s: float = 0.5


class Turn(Enum):
    """What a countdown comes to that is worth saying, the weightier first."""

    FAILED = "failed"
    FIRED_UNHEARD = "fired unheard"
    FIRED = "fired"
    GAVE_UP = "gave up"
    PAUSED = "paused"
    TAKES_SOON = "takes soon"
    STOPS_SOON = "stops soon"
    NOT_IN_FOCUS = "not in focus"


@dataclass(frozen=True, slots=True)
class CountdownState:
    """What to show of the timer.

    seconds_left: to the picture; to the end of waiting, while it waits.
    shown: the whole seconds to display.
    fired: the last picture of this countdown has been taken.
    paused: stopped by the person, to be started anew.
    holding: waiting for the person to be ready.
    warning: zero is near and the person is not in focus.
    gave_up: the limit passed and no picture was taken.
    limit_near: what happens at the limit of waiting, once that is near; None before.
    trouble: what was to take the picture has failed; it stays so until the timer is started anew.
    pending: zero has passed, and what takes the picture has not yet said what came of it.
    unheard: the camera's own timer takes the picture, and runs on whatever happens here; nobody
        tells whether it did.
    """

    seconds_left: float
    shown: int
    fired: bool
    paused: bool = False
    holding: bool = False
    warning: bool = False
    gave_up: bool = False
    trouble: bool = False
    pending: bool = False
    unheard: bool = False
    limit_near: AtLimit | None = None

    @property
    def counting(self) -> bool:
        """Whether it is running towards a picture, second by second."""
        idle = self.fired or self.paused or self.holding or self.gave_up
        return not idle and self.seconds_left > 0

    @property
    def fired_unheard(self) -> bool:
        """Whether the camera should have taken the picture by now, as far as is known."""
        return self.fired and self.unheard

    @property
    def camera_runs_on(self) -> bool:
        """Whether it was stopped here, which the camera's own timer does not know."""
        return self.paused and self.unheard

    @property
    def turns(self) -> tuple[Turn, ...]:
        """What it has come to, the weightiest first."""
        turns = (
            (self.trouble, Turn.FAILED),
            (self.fired_unheard, Turn.FIRED_UNHEARD),
            (self.fired, Turn.FIRED),
            (self.gave_up, Turn.GAVE_UP),
            (self.paused, Turn.PAUSED),
            (self.limit_near == "take", Turn.TAKES_SOON),
            (self.limit_near == "skip", Turn.STOPS_SOON),
            (self.warning, Turn.NOT_IN_FOCUS),
        )
        return tuple(turn for holds, turn in turns if holds)

    @property
    def word(self) -> str | None:
        """Its state in one word, to be shown instead of the seconds; None for the seconds."""
        turns = (
            (self.pending, "pending"),
            (self.trouble, "not_taken"),
            (self.fired_unheard, "now"),
            (self.fired, "taken"),
            (self.gave_up, "not_taken"),
            (self.paused, "paused"),
            (self.holding, "waiting"),
        )
        return next((word for holds, word in turns if holds), None)


class _Phase(Enum):
    IDLE = 0
    COUNTING = 1
    HOLDING = 2
    BURST = 3
    FIRED = 4
    PAUSED = 5
    GAVE_UP = 6


class Countdown:
    """One self-timer; `update` is asked once for every picture of the feed."""

    def __init__(self, options: TimerOptions) -> None:
        self._options = options
        self._phase = _Phase.IDLE
        self._started_s = 0.0
        self._holding_since_s = 0.0
        self._ready_since_s: float | None = None
        self._taken = 0
        self._next_shot_s = 0.0
        self._in_focus = False

    @property
    def running(self) -> bool:
        """Whether a picture is still to come."""
        return self._phase in (_Phase.COUNTING, _Phase.HOLDING, _Phase.BURST)

    @property
    def more_soon(self) -> bool:
        """Whether another picture of a burst is due within a moment."""
        return self._phase is _Phase.BURST and self._options.burst_interval_s <= _SOON_S

    @property
    def started_s(self) -> float | None:
        """When it was last started; None before."""
        return None if self._phase is _Phase.IDLE else self._started_s

    def start(self, now_s: float) -> None:
        """Begin, or begin again."""
        self._started_s = self._holding_since_s = now_s
        self._ready_since_s = None
        self._taken = 0
        self._phase = _Phase.HOLDING if self._options.seconds is None else _Phase.COUNTING

    def pause(self) -> None:
        """Stop without a picture; `start` begins anew."""
        if self.running:
            self._phase = _Phase.PAUSED

    @property
    def _zero_s(self) -> float:
        return self._started_s + (self._options.seconds or 0.0) + self._options.lag_s

    def update(self, now_s: float, readiness: Readiness = NOT_READY) -> bool:
        """Whether a picture is due now."""
        self._in_focus = readiness.in_focus
        if not readiness.ready:
            self._ready_since_s = None
        elif self._ready_since_s is None:
            self._ready_since_s = now_s
        if self._phase is _Phase.COUNTING and now_s >= self._zero_s:
            if self._options.if_not_ready == "go" or readiness.ready:
                return self._first_shot(now_s)
            self._phase, self._holding_since_s = _Phase.HOLDING, self._zero_s
        elif self._phase is _Phase.HOLDING:
            return self._held(now_s)
        elif self._phase is _Phase.BURST and now_s >= self._next_shot_s:
            return self._shot(now_s)
        return False

    def _held(self, now_s: float) -> bool:
        # After a countdown the person has stood and waited already: ready is ready.
        wanted_s = self._options.ready_for_s if self._options.seconds is None else 0.0
        if self._ready_since_s is not None and now_s - self._ready_since_s >= wanted_s:
            return self._first_shot(now_s)
        if now_s - self._holding_since_s >= self._options.limit_s:
            if self._options.at_limit == "take":
                return self._first_shot(now_s)
            self._phase = _Phase.GAVE_UP
        return False

    def _first_shot(self, now_s: float) -> bool:
        self._next_shot_s = now_s
        return self._shot(now_s)

    def _shot(self, now_s: float) -> bool:
        self._taken += 1
        self._next_shot_s += self._options.burst_interval_s
        # A feed that is slower than the burst must not let shots pile up.
        self._next_shot_s = max(self._next_shot_s, now_s)
        self._phase = _Phase.FIRED if self._taken >= self._options.burst else _Phase.BURST
        return True

    def at(self, now_s: float) -> CountdownState | None:
        """The state at `now_s`; None when not started."""
        if self._phase is _Phase.IDLE:
            return None
        holding = self._phase is _Phase.HOLDING
        end_s = self._holding_since_s + self._options.limit_s if holding else self._zero_s
        counts = self._phase in (_Phase.COUNTING, _Phase.HOLDING)
        left_s = max(0.0, end_s - now_s) if counts else 0.0
        near_zero = self._phase is _Phase.COUNTING and left_s <= WARN_BEFORE_S
        return CountdownState(
            left_s,
            math.ceil(left_s),
            fired=self._phase is _Phase.FIRED,
            paused=self._phase is _Phase.PAUSED,
            holding=holding,
            warning=near_zero and not self._in_focus,
            gave_up=self._phase is _Phase.GAVE_UP,
            limit_near=self._options.at_limit
            if holding and left_s <= TOLD_BEFORE_LIMIT_S
            else None,
        )
