"""`assist live`."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from assist import session
from assist.assistant import Known
from assist.cli import bars
from assist.cli import screen_options as sc
from assist.cli import set_up_options as so
from assist.cli import share_options as sharing
from assist.cli import telling_options as telling
from assist.cli import timer_options as to
from assist.cli import trigger_options as tr
from assist.cli.examples import examples
from assist.cli.option_group import spread
from assist.errors import UserError
from assist.feed_geometry import FeedGeometry
from assist.files import plain
from assist.listeners import Listeners
from assist.live import LiveOptions, LiveOutcome, LiveRun
from assist.phrases import Phrases
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.progress import Progress
from assist.repeat import earlier
from assist.repeat.guide import RepeatGuide
from assist.session import Session
from assist.set_up import SetUp
from assist.trouble import Notices, Trouble

EXAMPLES = examples(
    "assist live 0 --lens 50mm --aperture f/2.8 --focus 3m --stature 1.72m --timer 10s",
    "assist live 0 --set-up set-up.toml --when-ready 2s --burst 3 --session saturday",
    "assist live 0 --set-up set-up.toml --full-screen --window-at 1920,0 --theme sun",
    "assist live 0 --set-up set-up.toml --forward-only --speech --volume 40",
    "assist live clip.mp4 --set-up set-up.toml --no-window --output annotated.mp4",
    "assist live 0 --repeat saturday",
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
            metavar="FOLDER",
            help="Where the picture and the record go when a timer runs; a new folder in "
            "./sessions if left out.",
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
        raise UserError(f"{option} goes with --repeat SESSION: say which session to repeat")
    if repeat is not None:
        earlier.choose(repeat, repeat_attempt)  # what is missing is told before anything opens
        given = replace(
            given,
            set_up=given.set_up or repeat / session.SET_UP_FILE,
            profile=given.profile or _kept(repeat, session.PROFILE_FILE),
            feed_profile=given.feed_profile or _kept(repeat, session.FEED_PROFILE_FILE),
        )
    chosen = given.chosen()
    name = feed or so.feed_of(chosen, given.set_up)
    if name is None:
        raise UserError("no feed given: name one, such as 0 for the first camera")
    timer = to.gather(timed, chosen.timer.delay_s)
    new_trigger = tr.gather(triggered, timed=timer is not None)
    show = so.window_wanted(screen.window)
    say = watch.phrases()
    people = so.people_count(watch.people)
    known = so.known(chosen, given, watch.follow)
    place_px, shown_how = sc.place(screen), sc.gather(screen, shown=show)
    shared = sharing.gather(share)
    notices = Notices()
    source = so.open_feed(name, watch.rotate, known.feed)
    source = bars.watched(source, name, watch.rotate, chosen, known, telling.note)
    told = telling.gather(tell, camera=source.live, in_real_time=source.live or real_time)
    how = LiveOptions(
        pace="real" if real_time else "fast",
        window=show,
        full_screen=screen.full_screen,
        window_at_px=place_px,
        screen=shown_how,
        output=output,
        timer=timer,
        orders_by=so.orders_by(chosen),
        forward_only=watch.forward_only,
        known=known,
        timer_at_once=not (show and source.live),
    )
    # A set-up file's timer alone asks for no picture to be kept.
    taking = timer is not None and (timed.asked_for or triggered.asked_for)
    folder = keep or (session.default_folder() if taking else None)
    store = None if folder is None else Session(folder, chosen)
    taker = None if store is None else new_trigger(store.folder)
    if store is not None:
        store.keep_profiles(
            so.profile_path(given.profile, chosen.person.profile, given.set_up),
            so.profile_path(given.feed_profile, chosen.feed.profile, given.set_up),
        )
    screens = []
    if shared is not None:
        ended = notices.telling(Trouble.NO_SHARE, telling.note)
        screens.append(
            sharing.open_second_screen(shared, chosen, say, tell.volume, screen.mirror, ended)
        )
    guide = None
    if repeat is not None:
        strength = _GHOST if ghost is None else ghost
        guide = _guide(repeat, repeat_attempt, strength, chosen, known, watch.pose_model, say)
    with (
        telling.open_listeners(told, chosen.depth_of_field, say, screens, notices) as listeners,
        contextlib.nullcontext() if guide is None else contextlib.closing(guide),
        MediaPipePoseDetector(watch.pose_model, people=people) as detector,
        Progress(source) as progress,
    ):
        if not (show or output or told.sound or told.speech or shared):
            telling.note(_NOBODY_TOLD)
        outcome = LiveRun(
            chosen,
            source,
            detector,
            how,
            store,
            taker,
            progress.show,
            name,
            Listeners([listeners, progress]),
            say,
            guide,
            notices,
        ).run()
    report(outcome, output, store)


_NOBODY_TOLD = (
    "whoever is in the picture is told nothing: there is no window, sound, speech or second screen"
)


def _kept(folder: Path, name: str) -> Path | None:
    """A file of a session, where it has one."""
    path = folder / name
    return path if path.is_file() else None


def _guide(
    folder: Path,
    attempt: int | None,
    strength: float,
    chosen: SetUp,
    known: Known,
    pose_model: Path | None,
    say: Phrases,
) -> RepeatGuide:
    with MediaPipePoseDetector(pose_model, stills=True) as detector:
        kept = earlier.load(folder, attempt, detector)
    height, width = kept.picture.shape[:2]
    camera = FeedGeometry.of(chosen, known.feed).camera(width, height)
    return RepeatGuide(kept, camera.fx_px, say, strength)


def report(outcome: LiveOutcome, output: Path | None, store: Session | None) -> None:
    """Say what came of the run and where the files are."""
    rate_hz = outcome.pictures / outcome.seconds if outcome.seconds > 0 else 0.0
    typer.echo(f"{outcome.pictures} pictures in {outcome.seconds:.1f} s ({rate_hz:.0f} a second)")
    for attempt in outcome.attempts:
        where = (
            attempt.verdict
            if attempt.distance_m is None
            else f"eyes at {attempt.distance_m:.2f} m from the sensor plane "
            f"(sd {attempt.standard_deviation_m:.2f} m), {attempt.verdict}"
        )
        typer.echo(f"attempt {attempt.attempt}: {where}")
        if attempt.problem:
            typer.echo(plain(f"  problem: {attempt.problem}"))
    if store is not None and not outcome.attempts:
        typer.echo("the run ended before the countdown; nothing was taken")
    if store is not None:
        typer.echo(f"session: {store.folder}")
    if outcome.record_kept is not None:
        typer.echo(f"record, as the session's folder did not take it: {outcome.record_kept}")
    if output is not None and output.exists():
        typer.echo(f"video: {output}")
    if outcome.problems:
        raise UserError("; ".join(outcome.problems))
