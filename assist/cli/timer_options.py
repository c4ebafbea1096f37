"""The self-timer on the command line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal, cast

import typer

from assist.cli.values import stated
from assist.countdown import TimerOptions
from assist.errors import UserError
from assist.quantities import parse_seconds

_PANEL = "Self-timer"
NO_TIMER = "none"

Timer = Annotated[
    str | None,
    typer.Option(
        "--timer",
        rich_help_panel=_PANEL,
        help="Count down so many seconds, then take: 10s. The set-up file's timer if left out "
        "(then without keeping picture or record, unless --session is given); none for no timer.",
    ),
]
Lag = Annotated[
    str | None,
    typer.Option(
        "--timer-lag",
        rich_help_panel=_PANEL,
        help="How much later than this countdown your camera's own timer fires: 0.3s.",
    ),
]
WhenReady = Annotated[
    str | None,
    typer.Option(
        "--when-ready",
        rich_help_panel=_PANEL,
        help="Instead of a countdown: take when you have been in focus, framed and still so long.",
    ),
]
IfNotReady = Annotated[
    str,
    typer.Option(
        "--if-not-ready",
        rich_help_panel=_PANEL,
        help="At zero, out of focus: go (take all the same) or hold (wait until you are ready).",
    ),
]
Limit = Annotated[
    str, typer.Option("--limit", rich_help_panel=_PANEL, help="The longest it waits: 60s.")
]
Burst = Annotated[
    int, typer.Option("--burst", rich_help_panel=_PANEL, help="Pictures in a row, 1 to 100.")
]
BurstInterval = Annotated[
    str,
    typer.Option("--burst-interval", rich_help_panel=_PANEL, help="From one to the next: 0.5s."),
]


@dataclass(frozen=True)
class TimedOptions:
    """The options of the self-timer."""

    timer: Timer = None
    timer_lag: Lag = None
    when_ready: WhenReady = None
    if_not_ready: IfNotReady = "go"
    limit: Limit = "60s"
    burst: Burst = 1
    burst_interval: BurstInterval = "0.5s"

    @property
    def asked_for(self) -> bool:
        """Whether a timer was asked for on the command line, not only by a set-up file."""
        return self.when_ready is not None or self.timer not in (None, NO_TIMER)


def seconds(option: str, text: str, least: float = 0.0, most: float = 3600.0) -> float:
    """A time that an option gives; UserError naming the option otherwise."""
    value = stated(option, parse_seconds, text)
    if not least <= value <= most:
        raise UserError(f"{option} must be from {least:g} to {most:g} seconds, not {value:g}")
    return value


def gather(given: TimedOptions, delay_s: float | None = None) -> TimerOptions | None:
    """The timer that the options describe, None for none. Raises UserError naming the option.

    delay_s: the set-up's own timer, which an option goes over.
    """
    timer, when_ready, if_not_ready = given.timer, given.when_ready, given.if_not_ready
    if timer is not None and when_ready is not None:
        raise UserError("--timer and --when-ready exclude each other: give one")
    count_s = delay_s if timer is None else None
    if timer is not None and timer != NO_TIMER:
        count_s = seconds("--timer", timer)
    if when_ready is None and count_s is None:
        return None
    if if_not_ready not in ("go", "hold"):
        raise UserError(f"--if-not-ready is go or hold, not {if_not_ready!r}")
    if not 1 <= given.burst <= 100:
        raise UserError(f"--burst must be from 1 to 100 pictures, not {given.burst}")
    lag, ready = given.timer_lag, when_ready
    return TimerOptions(
        seconds=count_s if when_ready is None else None,
        lag_s=0.0 if lag is None else seconds("--timer-lag", lag, -60.0, 60.0),
        ready_for_s=1.5 if ready is None else seconds("--when-ready", ready, 0.0, 60.0),
        if_not_ready=cast("Literal['go', 'hold']", if_not_ready),
        limit_s=seconds("--limit", given.limit),
        burst=given.burst,
        burst_interval_s=seconds("--burst-interval", given.burst_interval, 0.0, 60.0),
    )
