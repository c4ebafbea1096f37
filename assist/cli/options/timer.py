"""The self-timer on the command line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal

import typer

from assist.base.errors import UserError
from assist.base.units import parse_seconds
from assist.base.words import _, current
from assist.cli.options.values import stated
from assist.guidance.countdown import AtLimit, TimerOptions

_PANEL = "Self-timer"
NO_TIMER = "none"

Timer = Annotated[
    str | None,
    typer.Option(
        "--timer",
        rich_help_panel=_PANEL,
        help="Count down this many seconds, then take the picture: 10s. The set-up file's timer if "
        "left out (then without keeping picture or record, unless --session is given); none for "
        "no timer.",
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
    Literal["go", "hold"] | None,
    typer.Option(
        "--if-not-ready",
        rich_help_panel=_PANEL,
        help="At zero of --timer, out of focus: go (take all the same, as if left out) or hold "
        "(wait until you are ready).",
    ),
]
AtTheLimit = Annotated[
    AtLimit | None,
    typer.Option(
        "--at-limit",
        rich_help_panel=_PANEL,
        help="When it has waited to its limit: skip (no picture, as if left out) or take (all the "
        "same). Said aloud before.",
    ),
]
Limit = Annotated[
    str | None,
    typer.Option("--limit", rich_help_panel=_PANEL, help="The longest it waits; 60s if left out."),
]
Burst = Annotated[
    int | None,
    typer.Option(
        "--burst", rich_help_panel=_PANEL, help="Pictures in a row, 1 to 100; one if left out."
    ),
]
BurstInterval = Annotated[
    str | None,
    typer.Option(
        "--burst-interval",
        rich_help_panel=_PANEL,
        help="From one to the next; 0.5s if left out.",
    ),
]


@dataclass(frozen=True)
class TimedOptions:
    """The options of the self-timer."""

    timer: Timer = None
    timer_lag: Lag = None
    when_ready: WhenReady = None
    if_not_ready: IfNotReady = None
    limit: Limit = None
    at_limit: AtTheLimit = None
    burst: Burst = None
    burst_interval: BurstInterval = None

    @property
    def asked_for(self) -> bool:
        """Whether a timer was asked for on the command line, not only by a set-up file."""
        return self.when_ready is not None or self.timer not in (None, NO_TIMER)


def seconds(option: str, text: str, least: float = 0.0, most: float = 3600.0) -> float:
    """A time that an option gives; UserError naming the option otherwise."""
    value = stated(option, parse_seconds, text)
    if not least <= value <= most:
        raise UserError(
            _(
                "{option} must be from {least} to {most} seconds, not {value}",
                option=option,
                least=current().decimal(f"{least:g}"),
                most=current().decimal(f"{most:g}"),
                value=current().decimal(f"{value:g}"),
            )
        )
    return value


def gather(given: TimedOptions, delay_s: float | None = None) -> TimerOptions | None:
    """The timer that the options describe, None for none. Raises UserError naming the option.

    delay_s: the set-up's own timer, which an option goes over.
    """
    timer, when_ready = given.timer, given.when_ready
    if timer is not None and when_ready is not None:
        raise UserError(_("--timer and --when-ready exclude each other: give one"))
    count_s = delay_s if timer is None else None
    if timer is not None and timer != NO_TIMER:
        count_s = seconds("--timer", timer)
    ready_s = None if when_ready is None else seconds("--when-ready", when_ready, 0.0, 60.0)
    further = _further(given)
    if when_ready is None and count_s is None:
        if further:
            raise UserError(
                _(
                    "{option} needs a timer: give --timer or --when-ready",
                    option=next(iter(further)),
                )
            )
        return None
    _check_waiting(given)
    timer_options = TimerOptions(seconds=None, **dict(further.values()))
    if ready_s is None:
        return replace(timer_options, seconds=count_s)
    return replace(timer_options, ready_for_s=ready_s)


def _check_waiting(given: TimedOptions) -> None:
    """UserError where an option of waiting is given to a timer that does not wait."""
    if given.when_ready is not None and given.if_not_ready is not None:
        raise UserError(
            _(
                "--if-not-ready goes with --timer; --when-ready waits until you are ready: say "
                "with --at-limit take or --at-limit skip what comes when it has waited long enough"
            )
        )
    waits = given.when_ready is not None or given.if_not_ready == "hold"
    if given.at_limit is not None and not waits:
        raise UserError(
            _("--at-limit goes with --when-ready or --if-not-ready hold: other timers do not wait")
        )


def _further(given: TimedOptions) -> dict[str, tuple[str, Any]]:
    """Of each further option that was given: the field it stands for, and its value, checked."""
    told: dict[str, tuple[str, Any]] = {}
    if given.timer_lag is not None:
        told["--timer-lag"] = "lag_s", seconds("--timer-lag", given.timer_lag, -60.0, 60.0)
    if given.if_not_ready is not None:
        told["--if-not-ready"] = "if_not_ready", given.if_not_ready
    if given.limit is not None:
        told["--limit"] = "limit_s", seconds("--limit", given.limit)
    if given.at_limit is not None:
        told["--at-limit"] = "at_limit", given.at_limit
    if given.burst is not None:
        if not 1 <= given.burst <= 100:
            raise UserError(_("--burst must be from 1 to 100 pictures, not {n}", n=given.burst))
        told["--burst"] = "burst", given.burst
    if given.burst_interval is not None:
        interval_s = seconds("--burst-interval", given.burst_interval, 0.0, 60.0)
        told["--burst-interval"] = "burst_interval_s", interval_s
    return told
