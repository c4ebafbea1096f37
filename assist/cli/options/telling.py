"""Sound and speech on the command line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import typer

from assist.output.sound.level import CAP_DBFS, DEFAULT_VOLUME
from assist.run.telling import Audible

_PANEL = "Sound and speech"

Sound = Annotated[
    bool | None,
    typer.Option(
        "--sound/--no-sound",
        rich_help_panel=_PANEL,
        help="Tones that tell where the zone is; by default with a camera, not with a file.",
    ),
]
Volume = Annotated[
    int,
    typer.Option(
        "--volume",
        rich_help_panel=_PANEL,
        help=f"0 to 100; at 100 the loudest sound peaks at {CAP_DBFS:g} dBFS, each halving takes "
        "12 dB off. How loud that is depends on your device: start low, above all with headphones.",
    ),
]
SignalSound = Annotated[
    bool | None,
    typer.Option(
        "--sound/--no-sound",
        rich_help_panel=_PANEL,
        help="Two rising notes when watching begins, two falling ones when it is over; by default "
        "with a camera.",
    ),
]
SpeechWanted = Annotated[
    bool,
    typer.Option(
        "--speech/--no-speech",
        rich_help_panel=_PANEL,
        help="Say it too, in short sentences, by this computer's own voice.",
    ),
]


@dataclass(frozen=True)
class TellingOptions:
    """The options of sound and speech."""

    sound: Sound = None
    volume: Volume = DEFAULT_VOLUME
    speech: SpeechWanted = False

    def audible(self) -> Audible:
        """What the person is to hear."""
        return Audible(self.sound, self.speech, self.volume)
