"""`assist live`."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.files import plain
from assist.base.words import _, current
from assist.cli.asked import asked, on_terminal
from assist.cli.examples import examples
from assist.cli.options import screen as sc
from assist.cli.options import set_up as so
from assist.cli.options import share as sharing
from assist.cli.options import telling
from assist.cli.options import timer as to
from assist.cli.options import trigger as tr
from assist.cli.options.group import spread
from assist.cli.options.values import note
from assist.guidance.wording import camera_hint
from assist.review.kept_picture import Kept
from assist.run.live import LiveOutcome
from assist.run.opening import RunRequest, opened
from assist.run.repeat import earlier
from assist.run.repeat.guide import RepeatGuide
from assist.run.repeating import guide_to
from assist.session import focus_learned
from assist.session import folder as session
from assist.session.place import new_session, session_kept, session_named
from assist.session.told import verdict_told
from assist.setup.profiles import feed_of
from assist.setup.set_up import SetUp

EXAMPLES = examples(
    "assist live 0 --lens 50mm --aperture f/2.8 --focus 3m --stature 1.72m --timer 10s",
    "assist live 0 --set-up set-up.toml --when-ready 2s --burst 3 --session saturday",
    "assist live 0 --set-up set-up.toml --full-screen --window-at 1920,0 --theme sun",
    "assist live 0 --set-up set-up.toml --forward-only --speech --volume 40",
    "assist live clip.mp4 --set-up set-up.toml --no-window --output annotated.mp4",
    "assist live 0 --repeat saturday",
    "assist live 0 --set-up set-up.toml --together 2 --statures 1.70m,1.82m --when-ready 2s",
)

_GHOST = 0.6


@spread
def live(
    feed: Annotated[
        str | None,
        typer.Argument(
            help="Camera number (0 is the first), device path, address, video file or folder of "
            "pictures; the set-up's feed if left out."
        ),
    ] = None,
    *,
    given: so.SetUpOptions,
    timed: to.TimedOptions,
    triggered: tr.TriggerOptions,
    tell: telling.TellingOptions,
    share: sharing.ShareOptions,
    screen: sc.WindowOptions,
    output: Annotated[
        Path | None,
        typer.Option("--output", metavar="FILE", help="Write the annotated video (.mp4)."),
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--session",
            metavar="NAME",
            parser=session_kept,
            help="Name of the session, a folder in ./sessions, where picture and record go when a "
            "timer runs; date and time if left out. A path works too.",
        ),
    ] = None,
    real_time: Annotated[
        bool,
        typer.Option(
            "--real-time/--fast", help="Play a file in its own time, or as fast as it goes."
        ),
    ] = False,
    repeat: Annotated[
        Path | None,
        typer.Option(
            "--repeat",
            metavar="SESSION",
            parser=session_named,
            help="Repeat a session: its set-up, its best picture as a ghost over the feed, and how "
            "the camera differs from then. + and - change the ghost's strength.",
        ),
    ] = None,
    repeat_attempt: Annotated[
        int | None,
        typer.Option("--repeat-attempt", help="The attempt to repeat; the best if left out."),
    ] = None,
    ghost: Annotated[
        float | None,
        typer.Option(
            "--ghost", min=0, max=1, help=f"Strength of the ghost, 0 to 1; {_GHOST} if left out."
        ),
    ] = None,
    watch: so.WatchOptions,
) -> None:
    """Watch a feed and tell the person in it to step forward, step back or hold.

    Nothing leaves this machine but by --share, and nothing is stored but what --output, --timer or
    --session ask for. Before you step back, look behind you: edges, traffic, water, cables.
    """
    if repeat is None and (repeat_attempt is not None or ghost is not None):
        option = "--ghost" if repeat_attempt is None else "--repeat-attempt"
        raise UserError(
            _("{option} goes with --repeat SESSION: say which session to repeat", option=option)
        )
    if repeat is not None:
        earlier.check(repeat)
        given = replace(
            given,
            set_up=given.set_up or repeat / session.SET_UP_FILE,
            profile=given.profile or _kept(repeat, session.PROFILE_FILE),
            feed_profile=given.feed_profile or _kept(repeat, session.FEED_PROFILE_FILE),
        )
    chosen = given.chosen()
    kept = None if repeat is None else _earlier(repeat, repeat_attempt, chosen)
    name = feed or feed_of(chosen, given.set_up)
    if name is None:
        raise UserError(_("no feed given: name one, such as 0 for the first camera"))
    timer = to.gather(timed, chosen.timer.delay_s)
    new_trigger = tr.gather(triggered, timed=timer is not None)
    request = asked(chosen, name, given, tell, share, screen, watch)
    how = replace(request.how, pace="real" if real_time else "fast", output=output, timer=timer)
    # A set-up file's timer alone asks for no picture to be kept.
    taking = timer is not None and (timed.asked_for or triggered.asked_for)
    folder = keep or (new_session() if taking else None)
    with (
        opened(
            replace(request, how=how), [name], keep=folder, real_time=real_time, lines=on_terminal()
        ) as on,
        contextlib.ExitStack() as stack,
    ):
        learned = None if repeat is None else focus_learned.load(repeat)
        [feed_open] = on.feeds
        store, guide = on.session, None
        if store is not None:
            files = given.profile_files(chosen)
            of_one = chosen.together.people is None
            store.keep_profiles(files.personal if of_one else None, files.feed)
        if kept is not None:
            guide = _guide(kept, _GHOST if ghost is None else ghost, request)
        if guide is not None:
            stack.callback(guide.close)
        run = stack.enter_context(
            on.run(
                feed_open,
                replace(how, timer_at_once=not (how.window and feed_open.source.live)),
                session=store,
                trigger=None if store is None else new_trigger(store.folder),
                repeat=guide,
                focus_before=learned,
            )
        )
        outcome = run.run()
        for hint in () if guide is None else guide.hints():
            words = camera_hint(hint, request.say)
            typer.echo(_("the camera: {words}", words=words))
    report(outcome, output, folder)


def _kept(folder: Path, name: str) -> Path | None:
    """A file of a session, where it has one."""
    path = folder / name
    return path if path.is_file() else None


def _without_ghost(why: earlier.NothingToShowError) -> None:
    note(
        _(
            "{why}; without a ghost of the earlier picture, all else of the session as it was",
            why=why,
        )
    )


def _earlier(folder: Path, attempt: int | None, chosen: SetUp) -> Kept | None:
    """The picture to show over the feed; None, and why is told, where there is none."""
    try:
        return earlier.choose(folder, attempt, own_lens=chosen.feed.through == "own-lens")
    except earlier.NothingToShowError as error:
        _without_ghost(error)
        return None


def _guide(kept: Kept, strength: float, request: RunRequest) -> RepeatGuide | None:
    try:
        return guide_to(kept, request, strength)
    except earlier.NothingToShowError as error:
        _without_ghost(error)
        return None


def report(outcome: LiveOutcome, output: Path | None, folder: Path | None) -> None:
    """Say what came of the run and where the files are."""
    rate_hz = outcome.pictures / outcome.seconds if outcome.seconds > 0 else 0.0
    typer.echo(
        _(
            "{n} pictures in {seconds} s ({rate} a second)",
            n=outcome.pictures,
            seconds=current().figure(outcome.seconds, 1),
            rate=f"{rate_hz:.0f}",
        )
    )
    for attempt in outcome.attempts:
        typer.echo(_attempt(attempt))
        if attempt.problem:
            typer.echo(plain("  " + _("problem: {problem}", problem=attempt.problem)))
    if folder is not None and not outcome.attempts:
        typer.echo(_("the run ended before the countdown; nothing was taken"))
    if folder is not None:
        typer.echo(_("session: {folder}", folder=folder))
    if outcome.record_kept is not None:
        typer.echo(
            _("record, as the session's folder did not take it: {file}", file=outcome.record_kept)
        )
    if output is not None and output.exists():
        typer.echo(_("video: {file}", file=output))
    if outcome.problems:
        raise UserError("; ".join(outcome.problems))


def _attempt(attempt: session.Attempt) -> str:
    verdict = verdict_told(attempt.verdict)
    if attempt.distance_m is None or attempt.standard_deviation_m is None:
        return _("attempt {n}: {verdict}", n=attempt.attempt, verdict=verdict)
    return _(
        "attempt {n}: eyes at {distance} m from the sensor plane (sd {sd} m), {verdict}",
        n=attempt.attempt,
        distance=current().figure(attempt.distance_m, 2),
        sd=current().figure(attempt.standard_deviation_m, 2),
        verdict=verdict,
    )
