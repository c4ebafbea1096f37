"""`assist calibrate board | print-board`: the feed's geometry from a board held before it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assist.base.files import refuse_existing
from assist.base.words import _
from assist.calibrate.board import Kind
from assist.calibrate.board_watch import board_of, fits_home_paper, learn_from_board
from assist.cli.examples import examples
from assist.cli.options.calibrate import Replace
from assist.cli.options.common import Rotate
from assist.setup import feed_profile

PRINT_EXAMPLE = "assist calibrate print-board board.pdf --square 25mm"
BOARD_EXAMPLE = "assist calibrate board 0 --square 24.8mm --out webcam.toml"
PRINT_EXAMPLES = examples(PRINT_EXAMPLE)
BOARD_EXAMPLES = examples(BOARD_EXAMPLE)

_Kind = Annotated[Kind, typer.Option("--kind", help="What the board shows.")]


def board(
    feed: Annotated[str, typer.Argument(help="Feed, video file or folder of pictures.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="Feed profile to write.")],
    kind: _Kind = "charuco",
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
    learned = learn_from_board(
        board_of(kind, squares, square), feed, seconds=seconds, every_s=every, rotation_deg=rotate
    )
    feed_profile.save(learned.profile(), out, replace=replace_file)
    typer.echo(_("{found}; in {file}", found=learned.in_words(), file=out))


def print_board(
    out: Annotated[Path, typer.Argument(help="PNG or PDF to write.")],
    kind: _Kind = "charuco",
    squares: Annotated[str, typer.Option("--squares", help="Squares across and down.")] = "8x6",
    square: Annotated[str, typer.Option("--square", help="Side of a square.")] = "25mm",
    replace_file: Replace = False,
) -> None:
    """Write a board to print at its true size, with a scale bar to check it by."""
    from assist.calibrate.board_file import write_board  # noqa: PLC0415

    refuse_existing(out, replace_file)
    width_mm, height_mm = write_board(board_of(kind, squares, square), out)
    size = f"{width_mm:.0f} x {height_mm:.0f} mm"
    if fits_home_paper(width_mm, height_mm):
        line = _("{file}: {size}; print at 100 % and measure the bar", file=out, size=size)
    else:
        line = _(
            "{file}: {size}, larger than A4 and letter paper (smaller squares make it fit); print "
            "at 100 % and measure the bar",
            file=out,
            size=size,
        )
    typer.echo(line)
