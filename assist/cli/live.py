"""`assist live`."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

import typer

from assist import feed as feeds
from assist import preview, session
from assist.cli import set_up_options as so
from assist.errors import UserError
from assist.live import LiveOptions, LiveOutcome, LiveRun
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.progress import Progress
from assist.quantities import parse_seconds
from assist.session import Session
from assist.trigger.frame import FrameTrigger


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
    timer: Annotated[
        str | None, typer.Option("--timer", help="Count down so many seconds, then take: 10s.")
    ] = None,
    window: Annotated[
        bool | None,
        typer.Option(
            "--window/--no-window", help="Show a window; by default if there is a display."
        ),
    ] = None,
    mirror: Annotated[
        bool, typer.Option("--mirror/--no-mirror", help="Show the picture as in a looking-glass.")
    ] = True,
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
    rotate: Annotated[
        int, typer.Option("--rotate", help="Turn the feed clockwise: 0, 90, 180 or 270 degrees.")
    ] = 0,
    pose_model: Annotated[
        Path | None, typer.Option("--pose-model", metavar="FILE", help="A pose landmarker bundle.")
    ] = None,
) -> None:
    """Watch a feed and tell the person in it to step forward, step back or hold.

    Nothing leaves this machine, and nothing is stored but what --output, --timer or --session ask
    for. Before you step back, look behind you: edges, traffic, water, cables.

    Example: assist live 0 --lens 50mm --aperture f/2.8 --focus 3m --stature 1.72m --timer 10s
    """
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
    )
    name = feed or chosen.feed.source
    if name is None:
        raise UserError("no feed given: name one, such as 0 for the first camera")
    seconds = timer_seconds(timer)
    if window and not preview.has_display():
        raise UserError("there is no display for a window: use --no-window")
    show = preview.has_display() if window is None else window
    source = feeds.open_source(name, rotate)
    folder = keep or (session.default_folder() if seconds is not None else None)
    store = None if folder is None else Session(folder, chosen)
    options = LiveOptions(
        pace="real" if real_time else "fast",
        window=show,
        mirrored=mirror,
        output=output,
        timer_s=seconds,
        timer_at_once=not (show and source.live),
    )
    with MediaPipePoseDetector(pose_model) as detector, Progress(source) as progress:
        outcome = LiveRun(
            chosen,
            source,
            detector,
            options,
            store,
            None if store is None else FrameTrigger(store.folder),
            progress.show,
            name,
        ).run()
    report(outcome, output, store)


def timer_seconds(text: str | None) -> float | None:
    """The countdown's length; UserError when it is none."""
    if text is None:
        return None
    try:
        seconds = parse_seconds(text)
    except ValueError as error:
        raise UserError(f"--timer: {error}") from error
    if not (math.isfinite(seconds) and 0 <= seconds <= 3600):
        raise UserError(f"--timer must be from 0 to 3600 seconds, not {seconds:g}")
    return seconds


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
            typer.echo(f"  problem: {attempt.problem}")
    if store is not None and not outcome.attempts:
        typer.echo("the run ended before the countdown; nothing was taken")
    if store is not None:
        typer.echo(f"session: {store.folder}")
    if output is not None and output.exists():
        typer.echo(f"video: {output}")
