"""What takes the picture, on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assist.cli.timer_options import seconds
from assist.errors import UserError
from assist.trigger import Trigger
from assist.trigger.command import CommandTrigger, check_there, split
from assist.trigger.frame import FrameTrigger
from assist.trigger.self_timer import SelfTimerTrigger
from assist.trigger.tether import TetherTrigger

_PANEL = "Taking the picture"
_KINDS = ("frame", "none", "tether")

Kind = Annotated[
    str,
    typer.Option(
        "--trigger",
        rich_help_panel=_PANEL,
        help="frame (keep the feed's own picture), none (your camera's self-timer takes it; only "
        "recorded) or tether (a camera on a cable; needs the extra).",
    ),
]
OnFire = Annotated[
    str | None,
    typer.Option(
        "--on-fire",
        metavar="COMMAND",
        rich_help_panel=_PANEL,
        help="A command of yours that takes the picture, run without a shell; {attempt} and "
        "{folder} stand for its number and the session's folder.",
    ),
]
OnFireLimit = Annotated[
    str,
    typer.Option(
        "--on-fire-limit",
        rich_help_panel=_PANEL,
        help="The longest that a command or a tethered camera may take: 30s.",
    ),
]


def gather(kind: str, on_fire: str | None, limit: str, folder: Path) -> Trigger:
    """The trigger that the options describe. Raises UserError naming the option."""
    limit_s = seconds("--on-fire-limit", limit, 0.1, 600.0)
    if kind not in _KINDS:
        raise UserError(f"--trigger must be {', '.join(_KINDS)}, not {kind!r}")
    if on_fire is not None:
        if kind == "tether":
            raise UserError("--on-fire and --trigger tether exclude each other: give one")
        arguments = split(on_fire)
        check_there(arguments)
        return CommandTrigger(arguments, folder, limit_s)
    if kind == "tether":
        return TetherTrigger(folder, limit_s)
    return SelfTimerTrigger() if kind == "none" else FrameTrigger(folder)
