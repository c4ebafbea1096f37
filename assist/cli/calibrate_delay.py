"""`assist calibrate delay`: how late a feed's pictures come, from a clock that it is shown."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.system import display, here
from assist.base.words import _, current
from assist.cli.examples import examples
from assist.setup import feed_profile

DELAY_EXAMPLE = "assist calibrate delay 0 --feed-profile webcam.toml"
DELAY_EXAMPLES = examples(DELAY_EXAMPLE, "assist calibrate delay rtsp://192.168.0.20/live")
_TOO_LATE_S = 0.5


def delay(
    feed: Annotated[str, typer.Argument(help="Camera number, device path or address.")],
    profile: Annotated[
        Path | None,
        typer.Option(
            "--feed-profile",
            metavar="FILE",
            help="The feed's profile, which the delay is written into.",
        ),
    ] = None,
    seconds: Annotated[
        float, typer.Option("--seconds", min=2, max=120, help="How long to read the clock.")
    ] = 10.0,
    limit: Annotated[
        float,
        typer.Option("--limit", min=5, max=600, help="The longest to wait for that, in seconds."),
    ] = 60.0,
) -> None:
    """Measure how late the feed's pictures come: point its camera at the clock on this screen.

    All four corner marks must be in the picture; a mirror will do. The two discs turn slowly and
    nothing flashes. A network changes its delay: measure where and as you will use it.
    """
    from assist.calibrate.delay import learn_delay  # noqa: PLC0415

    kept = None if profile is None else feed_profile.load(profile)
    problem = display.problem(here())
    if problem:
        raise UserError(
            _("the clock needs a window, and none can be opened here: {problem}", problem=problem)
        )
    typer.echo(_("point the feed's camera at the window: all four corner marks in the picture"))
    learned = learn_delay(feed, seconds=seconds, patience_s=limit)
    typer.echo(learned.in_words())
    if kept is not None and profile is not None:
        feed_profile.save(learned.into(kept), profile, replace=True)
        typer.echo(_("it is written into {file}", file=profile))
    else:
        figure = f"{learned.delay_s:.2f}"
        typer.echo(
            _(
                "use it with --feed-delay {figure}s, or delay_s = {figure} under [feed] in the "
                "set-up file",
                figure=figure,
            )
        )
    if learned.varies:
        typer.echo(
            _(
                "it varies by {spread} s: the network is not steady, and the figure will not be "
                "true for long; use a cable or a lower resolution",
                spread=current().figure(learned.spread_s, 2),
            )
        )
    if learned.delay_s > _TOO_LATE_S:
        typer.echo(
            _(
                "pictures so late cannot guide anybody: nothing will be called in focus. Lower "
                "the feed's resolution, use a cable, or set its sender to low latency"
            )
        )
