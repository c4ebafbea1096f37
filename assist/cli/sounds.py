"""`assist sounds`."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated

import numpy as np
import typer

from assist.base.errors import UserError
from assist.base.words import Words, _, current, language_of_locale, use
from assist.cli.examples import examples
from assist.cli.options import common, telling
from assist.output.sound import tour, wav
from assist.output.sound.level import DEFAULT_VOLUME, check_volume
from assist.output.sound.output import Loudspeaker, NoSoundError, device_rate_hz
from assist.output.sound.renderer import Renderer, Samples

_FILE_RATE_HZ = 48000


EXAMPLES = examples(
    "assist sounds --volume 40",
    "assist sounds --output tones.wav",
)


def sounds(
    output: Annotated[
        Path | None,
        typer.Option("--output", metavar="FILE", help="Write them to a WAV file instead."),
    ] = None,
    volume: telling.Volume = DEFAULT_VOLUME,
    language: common.Language = None,
) -> None:
    """Play all the sounds one after another, each with its name, to learn them before a run.

    Start with a low volume, above all with headphones.
    """
    check_volume(volume)
    if output is not None and output.suffix.lower() != ".wav":
        raise UserError(_("--output {file}: the file must end in .wav", file=output))
    use(Words(language or language_of_locale()))
    stops = tour.stops(current())
    if output is not None:
        renderer = Renderer(_FILE_RATE_HZ, volume)
        blocks: list[Samples] = []
        for stop in stops:
            at_s = current().decimal(f"{renderer.rendered_s:5.1f}")
            typer.echo(f"{at_s} s  {stop.name}")
            blocks.extend(tour.play(stop, renderer))
        wav.write(output, np.concatenate(blocks), _FILE_RATE_HZ)
        return
    try:
        _play(stops, volume)
    except NoSoundError as error:
        raise UserError(
            _("no sound: {error}; --output FILE writes a file instead", error=error)
        ) from error


def _play(stops: tuple[tour.TourStop, ...], volume: int) -> None:
    renderer = Renderer(device_rate_hz(), volume)
    for stop in stops:
        typer.echo(stop.name)
        _sound(np.concatenate(list(tour.play(stop, renderer))), renderer.rate_hz)


def _sound(samples: Samples, rate_hz: int) -> None:
    place = 0

    def render(count: int) -> Samples:
        nonlocal place
        piece = samples[place : place + count]
        place += count
        return np.pad(piece, (0, count - len(piece)))

    loudspeaker = Loudspeaker(render, rate_hz)
    try:
        time.sleep(len(samples) / rate_hz)
    finally:
        loudspeaker.close()
