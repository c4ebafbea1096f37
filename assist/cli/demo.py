"""`assist demo`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import numpy as np
import typer

from assist.base.words import _, current
from assist.cli.examples import examples
from assist.cli.options import common
from assist.run import demo as demonstration
from assist.session.told import verdict_told

EXAMPLES = examples(
    "assist demo",
    "assist demo --no-window --folder demo-output",
)


def demo(
    folder: Annotated[
        Path | None,
        typer.Option("--folder", help="Where the results go; ./demo-output if left out."),
    ] = None,
    window: common.Window = None,
    pose_model: common.PoseModel = None,
) -> None:
    """Run the assistant on the clip that comes with it. Needs no camera, network, sound or display.

    The clip and the person in it are invented and rendered, so that the truth is known exactly.
    """
    show = common.window_wanted(window)
    _summarise(demonstration.demonstrate(folder, pose_model=pose_model, window=show))


def _summarise(result: demonstration.DemoResult) -> None:
    outcome, zone, say = result.outcome, result.set_up.focus_zone, current()
    near = say.figure(zone.near_from_sensor_m, 2)
    far = say.figure(zone.far_from_sensor_m, 2)
    typer.echo(_("Focus zone: {near} to {far} m from the sensor plane.", near=near, far=far))
    if not outcome.attempts:
        typer.echo(_("The run was ended before the countdown; nothing was taken."))
    for attempt in outcome.attempts:
        from_lens_m = result.truth.eyes_at(attempt.feed_time_s)
        true_m = zone.from_sensor_m(from_lens_m)
        truth, verdict = say.figure(true_m, 2), verdict_told(attempt.verdict)
        if attempt.distance_m is None:
            typer.echo(
                _(
                    "At the end of the countdown: {verdict} (truth {truth} m).",
                    verdict=verdict,
                    truth=truth,
                )
            )
            continue
        error_m = attempt.distance_m - true_m
        typer.echo(
            _(
                "At the end of the countdown: eyes at {distance} m, {verdict} (probability "
                "{share}).",
                distance=say.figure(attempt.distance_m, 2),
                verdict=verdict,
                share=f"{attempt.p_in_focus:.0%}",
            )
        )
        figures = {
            "truth": truth,
            "error": say.decimal(f"{error_m:+.2f}"),
            "relative": say.decimal(f"{error_m / true_m:+.1%}"),
        }
        typer.echo(
            _("Truth: {truth} m, inside the zone; error {error} m ({relative}).", **figures)
            if zone.holds(from_lens_m)
            else _("Truth: {truth} m, outside the zone; error {error} m ({relative}).", **figures)
        )
    if result.relative_errors.size:
        size = np.abs(result.relative_errors)
        typer.echo(
            _(
                "Over the clip: median error {median}, 95 % of pictures within {most}; a distance "
                "in {n} of {of} pictures.",
                median=say.decimal(f"{np.median(size):.1%}"),
                most=say.decimal(f"{np.percentile(size, 95):.1%}"),
                n=size.size,
                of=outcome.pictures,
            )
        )
    rate = f"{outcome.pictures / outcome.seconds:.0f}"
    typer.echo(_("Speed: {rate} pictures a second.", rate=rate))
    for what, path in result.files.items():
        if path.exists():
            typer.echo(f"{what}: {path}")
