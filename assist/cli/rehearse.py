"""`assist rehearse`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich import box
from rich.console import Console
from rich.table import Table

from assist.base.errors import UserError
from assist.base.words import _, current
from assist.cli.asked import asked, on_terminal
from assist.cli.examples import examples
from assist.cli.options import screen as sc
from assist.cli.options import set_up as so
from assist.cli.options import share as sharing
from assist.cli.options import telling
from assist.cli.options.group import spread
from assist.cli.options.timer import seconds
from assist.run import rehearsing
from assist.session.place import session_kept
from assist.session.rehearsal import RunScore, advise
from assist.session.told import parts_told, verdict_told
from assist.setup.profiles import feed_of
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
            metavar="NAME",
            parser=session_kept,
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
    names = feed or [name for name in (feed_of(chosen, given.set_up),) if name is not None]
    if not names:
        raise UserError(_("no feed given: name one, such as 0 for the first camera"))
    if not 1 <= runs <= 100:
        raise UserError(_("{option} must be from 1 to 100, not {n}", option="--runs", n=runs))
    delay_s = chosen.timer.delay_s if timer is None else seconds("--timer", timer, 1.0)
    done = rehearsing.rehearse(
        asked(chosen, names[0], given, tell, share, screen, watch),
        names,
        10.0 if delay_s is None else delay_s,
        runs,
        keep=keep,
        lines=on_terminal(),
    )
    _report(done, chosen)
    if done.kept_elsewhere is not None:
        typer.echo(
            _(
                "scores, as the session's folder did not take them: {file}",
                file=done.kept_elsewhere,
            )
        )
    if done.problems:
        raise UserError("; ".join(done.problems))


def _report(done: rehearsing.Rehearsed, chosen: SetUp) -> None:
    if not done.scores:
        typer.echo(_("no run got as far as zero; nothing is scored"))
        return
    zone, say = chosen.focus_zone, current()
    near, far = (
        say.figure(limit_m, 2) for limit_m in (zone.near_from_sensor_m, zone.far_from_sensor_m)
    )
    typer.echo(_("Focus zone: {near} to {far} m from the sensor plane.", near=near, far=far))
    every = [*done.before, *done.scores]
    Console().print(_table(every))
    focused = sum(score.in_focus for score in every)
    typer.echo(_("in focus at zero: {n} of {of}", n=focused, of=len(every)))
    for line in advise(every, chosen.focus_zone):
        typer.echo(f"- {line}")


def _table(scores: list[RunScore]) -> Table:
    say = current()
    table = Table(box=box.SIMPLE_HEAD)
    columns = (
        _("run"), _("in the zone after"), _("past it by"), _("at zero"), _("verdict"), _("sway"),
        _("cut"),
    )  # fmt: skip
    for column in columns:
        table.add_column(column)
    for one in scores:
        table.add_row(
            str(one.run),
            _("never") if one.reached_s is None else f"{say.figure(one.reached_s, 1)} s",
            f"{say.figure(one.overshoot_m, 2)} m" if one.overshoot_m else "-",
            "-" if one.distance_m is None else f"{say.figure(one.distance_m, 2)} m",
            f"{verdict_told(one.verdict)} ({one.p_in_focus:.0%})",
            "-" if one.sway_m is None else f"{say.figure(one.sway_m * 100, 1)} cm",
            parts_told(one.cut) or "-",
        )
    return table
