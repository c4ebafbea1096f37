"""`assist calibrate`: the commands that learn your body, the feed's geometry and its delay."""

from __future__ import annotations

import typer

from assist.cli import (
    calibrate_board,
    calibrate_delay,
    calibrate_feed,
    calibrate_focus,
    calibrate_mark,
)
from assist.cli.examples import examples

app = typer.Typer(
    help="Learn your body, and the feed's geometry, for better distances.",
    epilog=examples(
        calibrate_mark.MARK_EXAMPLE,
        calibrate_focus.FOCUS_EXAMPLE,
        calibrate_board.PRINT_EXAMPLE,
        calibrate_board.BOARD_EXAMPLE,
    ),
)
app.command("lens", epilog=calibrate_feed.LENS_EXAMPLES)(calibrate_feed.lens)
app.command("view", epilog=calibrate_feed.VIEW_EXAMPLES)(calibrate_feed.view)
app.command("mark", epilog=calibrate_mark.MARK_EXAMPLES)(calibrate_mark.mark)
app.command("focus", epilog=calibrate_focus.FOCUS_EXAMPLES)(calibrate_focus.focus)
app.command("board", epilog=calibrate_board.BOARD_EXAMPLES)(calibrate_board.board)
app.command("print-board", epilog=calibrate_board.PRINT_EXAMPLES)(calibrate_board.print_board)
app.command("delay", epilog=calibrate_delay.DELAY_EXAMPLES)(calibrate_delay.delay)
