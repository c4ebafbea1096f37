"""`assist demo`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import numpy as np
import typer

from assist.cli.examples import examples
from assist.cli.options import set_up as so
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo as demonstration
from assist.session.folder import RECORD_FILE

EXAMPLES = examples(
    "assist demo",
    "assist demo --no-window --folder demo-output",
)


def demo(
    folder: Annotated[
        Path | None,
        typer.Option("--folder", help="Where the results go; ./demo-output if left out."),
    ] = None,
    window: Annotated[
        bool | None,
        typer.Option(
            "--window/--no-window", help="Show a window; by default if there is a display."
        ),
    ] = None,
    pose_model: so.PoseModel = None,
) -> None:
    """Run the assistant on the clip that comes with it. Needs no camera, network, sound or display.

    The clip and the person in it are invented and rendered, so that the truth is known exactly.
    """
    show = so.window_wanted(window)
    with MediaPipePoseDetector(pose_model) as detector:
        result = demonstration.run(
            folder or _free_folder(Path("demo-output")), detector, window=show, real_time=show
        )
    _summarise(result)


def _free_folder(wish: Path) -> Path:
    """The folder itself, or the first numbered one beside it that holds no record yet."""
    folder, number = wish, 1
    while (folder / RECORD_FILE).exists():
        number += 1
        folder = wish.with_name(f"{wish.name}-{number}")
    return folder


def _summarise(result: demonstration.DemoResult) -> None:
    outcome, zone = result.outcome, result.set_up.focus_zone
    near_m, far_m = zone.near_from_sensor_m, zone.far_from_sensor_m
    typer.echo(f"Focus zone: {near_m:.2f} to {far_m:.2f} m from the sensor plane.")
    if not outcome.attempts:
        typer.echo("The run was ended before the countdown; nothing was taken.")
    for attempt in outcome.attempts:
        true_m = zone.from_sensor_m(result.truth.eyes_at(attempt.feed_time_s))
        inside = "inside" if near_m <= true_m <= far_m else "outside"
        if attempt.distance_m is None:
            typer.echo(f"At the end of the countdown: {attempt.verdict} (truth {true_m:.2f} m).")
            continue
        error_m = attempt.distance_m - true_m
        typer.echo(
            f"At the end of the countdown: eyes at {attempt.distance_m:.2f} m, "
            f"{attempt.verdict} (probability {attempt.p_in_focus:.0%})."
        )
        typer.echo(
            f"Truth: {true_m:.2f} m, {inside} the zone; error {error_m:+.2f} m "
            f"({error_m / true_m:+.1%})."
        )
    if result.relative_errors.size:
        size = np.abs(result.relative_errors)
        typer.echo(
            f"Over the clip: median error {np.median(size):.1%}, 95 % of pictures within "
            f"{np.percentile(size, 95):.1%}; a distance in {size.size} of {outcome.pictures} "
            "pictures."
        )
    typer.echo(f"Speed: {outcome.pictures / outcome.seconds:.0f} pictures a second.")
    for what, path in result.files.items():
        if path.exists():
            typer.echo(f"{what}: {path}")
