"""How a run tells the person besides by the window: by sound and by speech."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.trouble import Notices, Trouble
from assist.base.words import Words
from assist.output.listeners import Listener, Listeners
from assist.output.sound.level import CAP_DBFS, DEFAULT_VOLUME, check_volume
from assist.output.sound.listener import Tones
from assist.output.speech.engines import find_engine
from assist.output.speech.listener import Speech
from optics.focus_zone import FocusZone

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


@dataclass(frozen=True)
class Telling:
    """What the options ask for."""

    sound: bool
    speech: bool
    volume_percent: int


def gather(given: TellingOptions, *, camera: bool, real_time: bool | None) -> Telling:
    """The options checked; UserError for one that makes no sense.

    `camera`: whether the feed is one.   `real_time`: whether a file is played by the clock on the
    wall, without which sound has no time; None where the command cannot do that.
    """
    if not (camera or real_time) and (given.sound or given.speech):
        option = "--sound" if given.sound else "--speech"
        other = (
            "; here a file is played as fast as it goes, assist live plays one with --real-time"
            if real_time is None
            else ", or a file played with --real-time"
        )
        raise UserError(f"{option} needs a camera{other}")
    sound = camera if given.sound is None else given.sound
    return Telling(sound, given.speech, check_volume(given.volume))


@contextmanager
def open_listeners(
    telling: Telling,
    zone: FocusZone,
    say: Words,
    more: Iterable[Listener] = (),
    notices: Notices | None = None,
) -> Iterator[Listeners]:
    """The listeners asked for, and `more`, closed at the end.

    Notes go to standard error, and to `notices`, which the run shows on the screen.
    """
    told = notices or Notices()
    listeners = list(more)
    speech = None
    if telling.speech:
        speech = Speech(
            lambda: find_engine(say.language, telling.volume_percent),
            told.telling(Trouble.NO_SPEECH, note),
        )
        listeners.append(speech)
    if telling.sound:
        hushed = (lambda: False) if speech is None else (lambda: speech.speaking)
        no_sound = told.telling(Trouble.NO_SOUND, note)
        listeners.append(Tones(zone, no_sound, telling.volume_percent, hushed))
    with Listeners(listeners, told.telling(Trouble.PART, note)) as group:
        yield group


def note(line: str) -> None:
    """One line for the user that is no error."""
    typer.echo(f"assist: {line}", err=True)
