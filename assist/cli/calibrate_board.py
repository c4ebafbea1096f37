"""`assist calibrate board | print-board`: the feed's geometry from a board held before it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Literal, cast

import typer

from assist.base.errors import UserError
from assist.base.files import refuse_existing
from assist.base.units import parse_length_m
from assist.calibrate.board import Board, calibrate
from assist.cli.examples import examples
from assist.cli.options.calibrate import Replace, frames
from assist.cli.options.set_up import Rotate
from assist.cli.options.values import stated
from assist.setup import feed_profile
from assist.setup.feed_profile import FeedProfile

PRINT_EXAMPLE = "assist calibrate print-board board.pdf --square 25mm"
BOARD_EXAMPLE = "assist calibrate board 0 --square 24.8mm --out webcam.toml"
PRINT_EXAMPLES = examples(PRINT_EXAMPLE)
BOARD_EXAMPLES = examples(BOARD_EXAMPLE)


def board(
    feed: Annotated[str, typer.Argument(help="Feed, video file or folder of pictures.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="Feed profile to write.")],
    kind: Annotated[str, typer.Option("--kind", help="charuco or chessboard.")] = "charuco",
    squares: Annotated[
        str, typer.Option("--squares", help="Squares across and down, not inner corners.")
    ] = "8x6",
    square: Annotated[str, typer.Option("--square", help="Side of a square, measured.")] = "25mm",
    seconds: Annotated[
        float, typer.Option("--seconds", min=1, max=600, help="How long to watch.")
    ] = 60.0,
    every: Annotated[
        float, typer.Option("--every", min=0, help="Seconds between pictures used.")
    ] = 0.5,
    rotate: Rotate = 0,
    replace_file: Replace = False,
) -> None:
    """Learn the feed's focal length and distortion from a printed board held before it.

    Show it in the middle and in every corner, tilted by 20 to 40 degrees to each side.
    """
    refuse_existing(out, replace_file)
    wanted = _board(kind, squares, square)
    pictures, looked_at, last_s = [], 0, -math.inf
    for frame in frames(feed, rotate, seconds):
        if frame.time_s - last_s < every:
            continue
        looked_at += 1
        if wanted.find(frame.picture) is not None:
            pictures.append(frame.picture.copy())
            last_s = frame.time_s
    result = calibrate(wanted, pictures, looked_at)
    camera = result.camera
    focal_sd = max(result.focal_sd, 1e-5)
    profile = FeedProfile.of_camera(camera, "board", focal_sd, error_px=result.error_px)
    feed_profile.save(profile, out, replace=replace_file)
    typer.echo(
        f"{result.used} pictures, reprojection error {result.error_px:.2f} px; focal length "
        f"{camera.fx_px:.1f} px (sure to {result.focal_sd:.2%}), view "
        f"{math.degrees(camera.horizontal_field_of_view_rad):.1f} degrees across; in {out}"
    )


def print_board(
    out: Annotated[Path, typer.Argument(help="PNG or PDF to write.")],
    kind: Annotated[str, typer.Option("--kind", help="charuco or chessboard.")] = "charuco",
    squares: Annotated[str, typer.Option("--squares", help="Squares across and down.")] = "8x6",
    square: Annotated[str, typer.Option("--square", help="Side of a square.")] = "25mm",
    replace_file: Replace = False,
) -> None:
    """Write a board to print at its true size, with a scale bar to check it by."""
    from assist.calibrate.board_file import write_board  # noqa: PLC0415

    refuse_existing(out, replace_file)
    width_mm, height_mm = write_board(_board(kind, squares, square), out)
    size = f"{width_mm:.0f} x {height_mm:.0f} mm"
    if not _fits_home_paper(width_mm, height_mm):
        size += ", larger than A4 and letter paper (smaller squares make it fit)"
    typer.echo(f"{out}: {size}; print at 100 % and measure the bar")


def _fits_home_paper(width_mm: float, height_mm: float) -> bool:
    """Whether A4 and letter paper both have room for it, lying or upright."""
    return max(width_mm, height_mm) <= 279 and min(width_mm, height_mm) <= 210


def _board(kind: str, squares: str, square: str) -> Board:
    if kind not in {"charuco", "chessboard"}:
        raise UserError(f"--kind must be charuco or chessboard, not {kind}")
    try:
        columns, rows = (int(part) for part in squares.lower().split("x"))
    except ValueError as error:
        raise UserError(f"--squares: write it as 8x6, not {squares}") from error
    side_mm = 1000 * stated("--square", lambda text: parse_length_m(text, "mm"), square)
    return Board(cast(Literal["charuco", "chessboard"], kind), columns, rows, side_mm)
