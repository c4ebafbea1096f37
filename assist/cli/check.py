"""`assist check`."""

from __future__ import annotations

import json
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from assist.base.system import here
from assist.base.words import Words, _, current, language_of_locale, use
from assist.check import sequence
from assist.check.findings import Finding, State
from assist.cli.examples import examples
from assist.cli.options import common

_STYLE: dict[State, str] = {
    "works": "green",
    "does not work": "bold red",
    "not installed": "yellow",
    "not here": "yellow",
}
_WHAT_WIDTH, _STATE_WIDTH = 18, 14


EXAMPLES = examples(
    "assist check",
    "assist check clip.mp4",
    "assist check --json",
)


def check(
    feed: Annotated[
        str | None,
        typer.Argument(
            help="Look at this feed (as in assist live) instead of this machine's cameras. Only an "
            "address is looked for on the network."
        ),
    ] = None,
    language: common.Language = None,
    pose_model: common.PoseModel = None,
    patience: Annotated[
        float,
        typer.Option(
            "--patience",
            min=0.1,
            max=100,
            help="Multiplies the time limits, for a slow machine: 10 s for a device, 60 s for the "
            "pose model.",
        ),
    ] = 1.0,
    as_json: Annotated[
        bool,
        typer.Option(
            "--json",
            help="Safe to share when you ask for help: the same for programs, without the names of "
            "devices, folders or people.",
        ),
    ] = False,
) -> None:
    """Tell what works on this machine, and how to fix what does not.

    Cameras, window, sound, speech, a camera on a cable, the pose model and the speed. Each is tried
    for some seconds at most, and let go; no picture is kept, no sound made, no network used. Ends
    with 0 when the main job can be done, with 1 when not.
    """
    use(Words(language or language_of_locale()))
    found: list[Finding] = []
    console = Console(highlight=False, soft_wrap=True)
    for finding in sequence.run(
        here(),
        feed=feed,
        language=current().language,
        pose_model=pose_model,
        patience=patience,
    ):
        found.append(finding)
        if not as_json:
            _show(console, finding)
    lacks = sequence.missing(found)
    if as_json:
        typer.echo(json.dumps(sequence.as_json(found), indent=2))
    elif lacks:
        typer.echo(_("Not ready for assist live: it lacks {parts}.", parts="; ".join(lacks)))
    else:
        typer.echo(_("Ready for assist live."))
    raise typer.Exit(1 if lacks else 0)


def _show(console: Console, finding: Finding) -> None:
    line = Text(f"{finding.title:<{_WHAT_WIDTH}}")
    line.append(f"{_state(finding.state):<{_STATE_WIDTH}}", _STYLE[finding.state])
    line.append("; ".join(part for part in (finding.named, finding.said) if part))
    console.print(line)
    if finding.mend:
        console.print(Text(f"{'':<{_WHAT_WIDTH}}-> {finding.mend}"))


def _state(state: State) -> str:
    """The state in words; what `--json` prints stays in English."""
    if state == "works":
        return _("works")
    if state == "does not work":
        return _("does not work")
    return _("not installed") if state == "not installed" else _("not here")
