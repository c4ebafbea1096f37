"""The self-timer on the command line."""

from __future__ import annotations

from typing import Annotated, Literal, cast

import typer

from assist.countdown import TimerOptions
from assist.errors import UserError
from assist.quantities import parse_seconds

_PANEL = "Self-timer"

Timer = Annotated[
    str | None,
    typer.Option(
        "--timer", rich_help_panel=_PANEL, help="Count down so many seconds, then take: 10s."
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


def seconds(option: str, text: str, least: float = 0.0, most: float = 3600.0) -> float:
    """A time that an option gives; UserError naming the option otherwise."""
    try:
        value = parse_seconds(text)
    except ValueError as error:
        raise UserError(f"{option}: {error}") from error
    if not least <= value <= most:
        raise UserError(f"{option} must be from {least:g} to {most:g} seconds, not {value:g}")
    return value


def gather(
    timer: str | None,
    lag: str | None,
    when_ready: str | None,
    if_not_ready: str,
    limit: str,
    burst: int,
    burst_interval: str,
) -> TimerOptions | None:
    """The timer that the options describe, None for none. Raises UserError naming the option."""
    if timer is not None and when_ready is not None:
        raise UserError("--timer and --when-ready exclude each other: give one")
    if timer is None and when_ready is None:
        return None
    if if_not_ready not in ("go", "hold"):
        raise UserError(f"--if-not-ready is go or hold, not {if_not_ready!r}")
    if not 1 <= burst <= 100:
        raise UserError(f"--burst must be from 1 to 100 pictures, not {burst}")
    return TimerOptions(
        seconds=None if timer is None else seconds("--timer", timer),
        lag_s=0.0 if lag is None else seconds("--timer-lag", lag, -60.0, 60.0),
        ready_for_s=1.5 if when_ready is None else seconds("--when-ready", when_ready, 0.0, 60.0),
        if_not_ready=cast("Literal['go', 'hold']", if_not_ready),
        limit_s=seconds("--limit", limit),
        burst=burst,
        burst_interval_s=seconds("--burst-interval", burst_interval, 0.0, 60.0),
    )
