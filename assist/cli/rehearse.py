"""`assist rehearse`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer
from rich import box
from rich.console import Console
from rich.table import Table

from assist.base.errors import UserError
from assist.cli import running
from assist.cli.examples import examples
from assist.cli.options import screen as sc
from assist.cli.options import set_up as so
from assist.cli.options import share as sharing
from assist.cli.options import telling
from assist.cli.options.group import spread
from assist.cli.options.timer import seconds
from assist.guidance.assistant import Moment
from assist.guidance.countdown import TimerOptions
from assist.run.live import LiveOptions, LiveOutcome
from assist.session import folder as session
from assist.session.rehearsal import Rehearsal, RunScore, ScoreBook, advise
from assist.setup.set_up import SetUp

EXAMPLES = examples(
    "assist rehearse 0 --set-up set-up.toml --timer 10s --runs 3",
    "assist rehearse 0 --set-up set-up.toml --session saturday",
    "assist rehearse first.mp4 second.mp4 --set-up set-up.toml --timer 12s",
)


@spread
def rehearse(
    feed: Annotated[
        list[str] | None,
        typer.Argument(help="A camera, or one video file for each run; else the set-up's feed."),
    ] = None,
    *,
    given: so.SetUpOptions,
    timer: Annotated[
        str | None, typer.Option("--timer", help="The self-timer; the set-up's, or 10s.")
    ] = None,
    runs: Annotated[int, typer.Option("--runs", help="How many runs, 1 to 100.")] = 3,
    tell: telling.TellingOptions,
    share: sharing.ShareOptions,
    screen: sc.WindowOptions,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--session",
            metavar="FOLDER",
            help="Keep the scores there, and go on from those that are there already.",
        ),
    ] = None,
    watch: so.WatchOptions,
) -> None:
    """Rehearse the walk to the mark: the live run without a picture, scored run by run.

    With a camera, a run starts when you hold one hand above your head for a second, press T, or
    leave the picture for two seconds. Walk the path once with open eyes before you start: edges,
    cables, water, traffic.
    """
    chosen = given.chosen()
    names = feed or [name for name in (so.feed_of(chosen, given.set_up),) if name is not None]
    if not names:
        raise UserError("no feed given: name one, such as 0 for the first camera")
    if not 1 <= runs <= 100:
        raise UserError(f"--runs must be from 1 to 100, not {runs}")
    delay_s = chosen.timer.delay_s if timer is None else seconds("--timer", timer, 1.0)
    countdown_s = 10.0 if delay_s is None else delay_s
    asked = running.read(chosen, given, tell, share, screen, watch)
    how = replace(asked.how, timer=TimerOptions(countdown_s))
    problems: list[str] = []
    with running.opened(replace(asked, how=how), names, keep=keep, real_time=None) as on:
        book = None if on.session is None else ScoreBook(on.session, on.notices)
        before = [] if book is None else book.earlier
        rehearsal = Rehearsal(
            countdown_s,
            chosen.focus_zone,
            len(before) + 1,
            (lambda _: None) if book is None else book.keep,
        )
        try:
            for one in on.feeds:
                how_here = replace(how, timer_at_once=not one.source.live)
                outcome = _run_feed(on, one, how_here, rehearsal, runs)
                problems += outcome.problems
                if outcome.quit:
                    break
        except UserError as error:  # what was scored before is told all the same
            problems.append(str(error))
        except KeyboardInterrupt:  # between two feeds
            if not rehearsal.scores:
                raise
        _report(before, rehearsal.scores, chosen)
        if book is not None:
            _settle(book, problems)
    if problems:
        raise UserError("; ".join(problems))


def _settle(book: ScoreBook, problems: list[str]) -> None:
    try:
        kept = book.settle()
    except UserError as error:
        problems.append(str(error))
        return
    if kept is not None:
        typer.echo(f"scores, as the session's folder did not take them: {kept}")


def _run_feed(
    on: running.Running, feed: running.Feed, how: LiveOptions, rehearsal: Rehearsal, runs: int
) -> LiveOutcome:
    """Rehearse on one feed."""
    camera = feed.source.live

    def watch(moment: Moment) -> None:
        started_s = live.timer_started_s
        if rehearsal.between_runs and live.timer_running and started_s is not None:
            rehearsal.start(started_s)
        rehearsal.see(moment, session.now())
        if len(rehearsal.scores) >= runs and camera:
            live.stop()
        elif rehearsal.ready_for_next(moment) and camera and not live.timer_running:
            live.start_timer(moment.frame.time_s)

    with on.run(feed, how, on_moment=watch) as live:
        try:
            return live.run()
        finally:
            rehearsal.finish(session.now())


def _report(before: list[RunScore], scores: list[RunScore], chosen: SetUp) -> None:
    if not scores:
        typer.echo("no run got as far as zero; nothing is scored")
        return
    zone = chosen.focus_zone
    near_m, far_m = zone.near_from_sensor_m, zone.far_from_sensor_m
    typer.echo(f"Focus zone: {near_m:.2f} to {far_m:.2f} m from the sensor plane.")
    table = Table(box=box.SIMPLE_HEAD)
    for column in ("run", "in the zone after", "past it by", "at zero", "verdict", "sway", "cut"):
        table.add_column(column)
    for one in [*before, *scores]:
        table.add_row(
            str(one.run),
            "never" if one.reached_s is None else f"{one.reached_s:.1f} s",
            f"{one.overshoot_m:.2f} m" if one.overshoot_m else "-",
            "-" if one.distance_m is None else f"{one.distance_m:.2f} m",
            f"{one.verdict} ({one.p_in_focus:.0%})",
            "-" if one.sway_m is None else f"{one.sway_m * 100:.1f} cm",
            ", ".join(one.cut) or "-",
        )
    Console().print(table)
    every = [*before, *scores]
    typer.echo(f"in focus at zero: {sum(s.in_focus for s in every)} of {len(every)}")
    for line in advise(every, zone):
        typer.echo(f"- {line}")
