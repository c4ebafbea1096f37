"""What takes the picture, on the command line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import typer

from assist.base.errors import UserError
from assist.base.words import _
from assist.camera.command import CommandTrigger, check_there, split
from assist.camera.frame import FrameTrigger
from assist.camera.self_timer import SelfTimerTrigger
from assist.camera.tether import TetherTrigger
from assist.camera.trigger import Trigger
from assist.camera.watched_folder import FolderTrigger
from assist.cli.options.timer import seconds

_PANEL = "Taking the picture"
_LIMIT_S = 30.0
_WATCHED_LIMIT_S = 60.0
"""Wireless transfers of large files take their time. Common practice, no source."""

Kind = Annotated[
    Literal["frame", "none", "tether"],
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
    str | None,
    typer.Option(
        "--on-fire-limit",
        rich_help_panel=_PANEL,
        help="The longest that a command, a tethered camera (30s if left out) or a file's way into "
        "--pictures-from (60s) may take.",
    ),
]


PicturesFrom = Annotated[
    Path | None,
    typer.Option(
        "--pictures-from",
        metavar="FOLDER",
        rich_help_panel=_PANEL,
        help="Your camera takes the picture by its own timer or remote, and its files appear in "
        "this folder: wireless transfer, a card reader, a maker's software. Each is checked at "
        "once.",
    ),
]


@dataclass(frozen=True)
class TriggerOptions:
    """The options of what takes the picture."""

    trigger: Kind = "frame"
    on_fire: OnFire = None
    on_fire_limit: OnFireLimit = None
    pictures_from: PicturesFrom = None

    @property
    def asked_for(self) -> bool:
        """Whether anything but the feed's own picture was asked for."""
        return self.trigger != "frame" or bool(self.on_fire or self.pictures_from)


def gather(given: TriggerOptions, *, timed: bool) -> Callable[[Path], Trigger]:
    """What makes the trigger, in a session's folder. Raises UserError naming the option.

    timed: whether there is a timer that would fire it.
    """
    kind, limit = given.trigger, given.on_fire_limit
    limit_s = _LIMIT_S if limit is None else seconds("--on-fire-limit", limit, 0.1, 600.0)
    watched = given.pictures_from
    if limit is not None and given.on_fire is None and watched is None and kind != "tether":
        raise UserError(
            _(
                "--on-fire-limit goes with --on-fire, --pictures-from or --trigger tether: leave "
                "it out"
            )
        )
    if given.asked_for and not timed:
        option = "--trigger" if given.on_fire is None else "--on-fire"
        option = option if watched is None else "--pictures-from"
        raise UserError(
            _("{option} needs a timer that fires it: give --timer or --when-ready", option=option)
        )
    if watched is not None:
        if given.on_fire is not None or kind == "tether":
            other = "--trigger tether" if given.on_fire is None else "--on-fire"
            raise UserError(
                _("--pictures-from and {other} exclude each other: give one", other=other)
            )
        watched_limit_s = _WATCHED_LIMIT_S if limit is None else limit_s
        return lambda folder: FolderTrigger(watched, folder, watched_limit_s)
    if given.on_fire is not None:
        if kind == "tether":
            raise UserError(_("--on-fire and --trigger tether exclude each other: give one"))
        arguments = split(given.on_fire)
        check_there(arguments)
        return lambda folder: CommandTrigger(arguments, folder, limit_s)
    if kind == "tether":
        return lambda folder: TetherTrigger(folder, limit_s)
    return (lambda _folder: SelfTimerTrigger()) if kind == "none" else FrameTrigger
