"""`assist calibrate focus`: where the lens is really focused, by three test pictures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.words import _, current
from assist.cli.asked import asked, on_terminal
from assist.cli.examples import examples
from assist.cli.options import screen as sc
from assist.cli.options import set_up as so
from assist.cli.options import share as sharing
from assist.cli.options import telling
from assist.cli.options import trigger as tr
from assist.cli.options.group import spread
from assist.cli.options.timer import seconds
from assist.guidance.countdown import TimerOptions
from assist.guidance.narrow_zone import half_depth
from assist.run.opening import opened
from assist.session import focus_learned
from assist.session.place import new_session, session_kept
from assist.setup.profiles import feed_of
from assist.setup.set_up import SetUp

FOCUS_EXAMPLE = "assist calibrate focus 0 --set-up set-up.toml --trigger tether --session saturday"
FOCUS_EXAMPLES = examples(
    FOCUS_EXAMPLE,
    'assist calibrate focus 0 --set-up set-up.toml --on-fire "take-picture {folder}" --timer 12s',
)


@spread
def focus(
    feed: Annotated[
        str | None,
        typer.Argument(help="Camera number, device path or address; the set-up's feed."),
    ] = None,
    *,
    given: so.SetUpOptions,
    timer: Annotated[str, typer.Option("--timer", help="Time to get to each place: 10s.")] = "10s",
    triggered: tr.TriggerOptions,
    tell: telling.TellingOptions,
    share: sharing.ShareOptions,
    screen: sc.WindowOptions,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--session",
            metavar="NAME",
            parser=session_kept,
            help="Name of the session in which pictures and result are kept.",
        ),
    ] = None,
    watch: so.WatchOptions,
) -> None:
    """Find where the lens is really focused, by three test pictures of you.

    Focus on your mark, lock the focus, stand in front of the camera and follow the screen: once
    nearer than the mark, once behind it, once before it. Your eyes' sharpness in the pictures shows
    where the plane of focus lies, more exactly than any distance can be measured. Then go on with
    assist live --repeat. Before you step back, look behind you: edges, traffic, water, cables.
    """
    chosen = given.chosen()
    name = feed or feed_of(chosen, given.set_up)
    if name is None:
        raise UserError(_("no feed given: name one, such as 0 for the first camera"))
    if not triggered.asked_for or triggered.trigger == "none":
        raise UserError(
            _(
                "the pictures must come from the camera itself: give --trigger tether, "
                "--pictures-from FOLDER, or --on-fire with a command that leaves the file in "
                "{folder}",
                folder="{folder}",
            )
        )
    new_trigger = tr.gather(triggered, timed=True)
    folder = keep or new_session()
    request = asked(chosen, name, given, tell, share, screen, watch)
    how = replace(
        request.how, timer=TimerOptions(seconds("--timer", timer, 1.0)), three_pictures=True
    )
    with opened(
        replace(request, how=how), [name], keep=folder, real_time=None, lines=on_terminal()
    ) as on:
        [feed_open] = on.feeds
        store = on.session
        assert store is not None
        files = given.profile_files(chosen)
        store.keep_profiles(files.personal, files.feed)
        with on.run(feed_open, how, session=store, trigger=new_trigger(store.folder)) as run:
            outcome = run.run()
    _report(focus_learned.load(folder), chosen, folder)
    if outcome.problems:
        raise UserError("; ".join(outcome.problems))


def _report(found: focus_learned.FocusLearned | None, chosen: SetUp, folder: Path) -> None:
    """Say what was found and how to go on."""
    if found is None:
        raise UserError(
            _(
                "no picture told where the plane of focus lies; see the pictures in {folder}: the "
                "eyes must be in them, large enough and not blurred by movement",
                folder=folder,
            )
        )
    say, zone = current(), chosen.focus_zone
    sd_m = found.sd * zone.best_m
    typer.echo(
        _(
            "the plane of focus lies at {distance} as your distance is measured, known to {spread} "
            "({n} pictures)",
            distance=say.length(zone.from_sensor_m(zone.best_m * found.ratio), 2),
            spread=say.short_length(1.645 * sd_m),
            n=len(found.lessons),
        )
    )
    if found.sd > half_depth(zone) / 3:
        typer.echo(_("that is not yet exact enough for this zone: take three more"))
    typer.echo(_("go on with: assist live --repeat {folder}", folder=folder))
