"""`assist live`."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Annotated

import typer

from assist import session
from assist.assistant import Known
from assist.cli import screen_options as sc
from assist.cli import set_up_options as so
from assist.cli import share_options as sharing
from assist.cli import telling_options as telling
from assist.cli import timer_options as to
from assist.cli import trigger_options as tr
from assist.cli.examples import examples
from assist.errors import UserError
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
from assist.sound.level import DEFAULT_VOLUME
from assist.trouble import Notices

EXAMPLES = examples(
    "assist live 0 --lens 50mm --aperture f/2.8 --focus 3m --stature 1.72m --timer 10s",
    "assist live 0 --set-up set-up.toml --when-ready 2s --burst 3 --session saturday",
    "assist live 0 --set-up set-up.toml --full-screen --window-at 1920,0 --theme sun",
    "assist live 0 --set-up set-up.toml --forward-only --speech --volume 40",
    "assist live clip.mp4 --set-up set-up.toml --no-window --output annotated.mp4",
    "assist live 0 --repeat saturday",
)


def live(
    feed: Annotated[
        str | None,
        typer.Argument(
            help="Camera number (0 is the first), device path, address, video file or folder of "
            "pictures; the set-up's feed if left out."
        ),
    ] = None,
    set_up: so.SetUpFile = None,
    sensor: so.Sensor = None,
    lens: so.FocalLength = None,
    aperture: so.Aperture = None,
    focus: so.Focus = None,
    criterion: so.Criterion = None,
    stature: so.Stature = None,
    through: so.Through = None,
    crop: so.Crop = None,
    field_of_view: so.HorizontalView = None,
    profile: so.Profile = None,
    feed_profile: so.FeedProfileFile = None,
    timer: to.Timer = None,
    timer_lag: to.Lag = None,
    when_ready: to.WhenReady = None,
    if_not_ready: to.IfNotReady = "go",
    limit: to.Limit = "60s",
    burst: to.Burst = 1,
    burst_interval: to.BurstInterval = "0.5s",
    trigger: tr.Kind = "frame",
    on_fire: tr.OnFire = None,
    on_fire_limit: tr.OnFireLimit = "30s",
    gestures: Annotated[
        bool,
        typer.Option(
            "--gestures/--no-gestures",
            help="Hold one hand above your head for a second to start or pause the timer, both for "
            "two seconds to end.",
        ),
    ] = True,
    sound: telling.Sound = None,
    volume: telling.Volume = DEFAULT_VOLUME,
    speech: telling.SpeechWanted = False,
    share: sharing.Share = False,
    share_address: sharing.ShareAddress = None,
    share_port: sharing.SharePort = 0,
    share_devices: sharing.ShareDevices = 1,
    share_video: sharing.ShareVideo = False,
    share_qr: sharing.ShareQr = None,
    window: Annotated[
        bool | None,
        typer.Option(
            "--window/--no-window", help="Show a window; by default if there is a display."
        ),
    ] = None,
    mirror: sc.Mirror = True,
    full_screen: sc.FullScreen = False,
    window_at: sc.WindowAt = None,
    screen_size: sc.ScreenSize = "1280x720",
    screen_diagonal: sc.ScreenDiagonal = "13in",
    theme: sc.ThemeName = "plain",
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
        float, typer.Option("--ghost", min=0, max=1, help="Strength of the ghost, 0 to 1.")
    ] = 0.6,
    people: so.People = 1,
    follow: so.Follow = "first",
    forward_only: so.ForwardOnly = False,
    language: so.Language = None,
    units: Annotated[
        str, typer.Option("--units", help="Lengths on screen in metres or feet.")
    ] = "metres",
    rotate: Annotated[
        int, typer.Option("--rotate", help="Turn the feed clockwise: 0, 90, 180 or 270 degrees.")
    ] = 0,
    pose_model: Annotated[
        Path | None, typer.Option("--pose-model", metavar="FILE", help="A pose landmarker bundle.")
    ] = None,
) -> None:
    """Watch a feed and tell the person in it to step forward, step back or hold.

    Nothing leaves this machine but by --share, and nothing is stored but what --output, --timer or
    --session ask for. Before you step back, look behind you: edges, traffic, water, cables.
    """
    if repeat is not None:
        earlier.choose(repeat, repeat_attempt)  # what is missing is told before anything opens
        set_up = set_up or repeat / session.SET_UP_FILE
        profile = profile or _kept(repeat, session.PROFILE_FILE)
        feed_profile = feed_profile or _kept(repeat, session.FEED_PROFILE_FILE)
    chosen = so.gather(
        set_up,
        sensor=sensor,
        focal_length=lens,
        aperture=aperture,
        focus=focus,
        criterion=criterion,
        stature=stature,
        through=through,
        crop=crop,
        field_of_view=field_of_view,
        feed_profile=feed_profile,
    )
    name = feed or so.feed_of(chosen, set_up)
    if name is None:
        raise UserError("no feed given: name one, such as 0 for the first camera")
    options = to.gather(timer, timer_lag, when_ready, if_not_ready, limit, burst, burst_interval)
    show = so.window_wanted(window)
    say = Phrases.load(so.language_code(language), so.units_name(units))
    known = so.known(chosen, set_up, profile, feed_profile, follow)
    source = so.open_feed(name, rotate, known.feed)
    shared = sharing.gather(share, share_address, share_port, share_devices, share_video, share_qr)
    told = telling.gather(
        sound, volume, speech, camera=source.live, in_real_time=source.live or real_time
    )
    folder = keep or (session.default_folder() if options is not None else None)
    store = None if folder is None else Session(folder, chosen)
    taker = None if store is None else tr.gather(trigger, on_fire, on_fire_limit, store.folder)
    if store is not None:
        store.keep_profiles(
            so.profile_path(profile, chosen.person.profile, set_up),
            so.profile_path(feed_profile, chosen.feed.profile, set_up),
        )
    how = LiveOptions(
        pace="real" if real_time else "fast",
        window=show,
        full_screen=full_screen,
        window_at_px=None if window_at is None else sc.pair("--window-at", window_at),
        screen=sc.gather(screen_size, screen_diagonal, theme, mirror),
        output=output,
        timer=options,
        gestures=gestures,
        forward_only=forward_only,
        known=known,
        timer_at_once=not (show and source.live),
    )
    screens = sharing.open_screens(shared, chosen, say, volume, mirror)
    guide = (
        None if repeat is None else _guide(repeat, repeat_attempt, ghost, chosen, known, pose_model)
    )
    notices = Notices()
    with (
        telling.open_listeners(told, chosen.depth_of_field, say, screens, notices) as listeners,
        contextlib.nullcontext() if guide is None else contextlib.closing(guide),
        MediaPipePoseDetector(pose_model, people=so.people_count(people)) as detector,
        Progress(source) as progress,
    ):
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
) -> RepeatGuide:
    with MediaPipePoseDetector(pose_model, stills=True) as detector:
        kept = earlier.load(folder, attempt, detector)
    height, width = kept.picture.shape[:2]
    learned = known.feed
    camera = (chosen.feed_camera if learned is None else learned.camera)(width, height)
    return RepeatGuide(kept, camera.fx_px, strength)


def report(outcome: LiveOutcome, output: Path | None, store: Session | None) -> None:
    """Say what came of the run and where the files are."""
    rate_hz = outcome.pictures / outcome.seconds if outcome.seconds > 0 else 0.0
    typer.echo(f"{outcome.pictures} pictures in {outcome.seconds:.1f} s ({rate_hz:.0f} a second)")
    for attempt in outcome.attempts:
        where = (
            "no one in view"
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
