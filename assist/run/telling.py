"""What tells the person during a run besides the screen: tones and speech, opened and closed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from assist.base.errors import UserError
from assist.base.trouble import Notices, Trouble
from assist.base.words import Words, _
from assist.output.listeners import Listener, Listeners
from assist.output.sound.level import DEFAULT_VOLUME, check_volume
from assist.output.sound.listener import Tones
from assist.output.speech.engines import find_engine
from assist.output.speech.listener import Speech
from optics.focus_zone import FocusZone


@dataclass(frozen=True)
class Audible:
    """What the person is to hear.

    sound: tones; None for with a camera, but not with a file.   speech: sentences.
    volume_percent: of both, 0 to 100.
    """

    sound: bool | None = None
    speech: bool = False
    volume_percent: int = DEFAULT_VOLUME

    def settled(self, *, camera: bool, real_time: bool | None) -> Audible:
        """The same with `sound` decided.

        camera: whether a feed is one.   real_time: whether a file is played by the clock on the
        wall, without which sound has no time; None where that cannot be had.

        Raises UserError for sound that no one could follow, and for a volume that cannot be.
        """
        if not (camera or real_time) and (self.sound or self.speech):
            option = "--sound" if self.sound else "--speech"
            if real_time is None:
                raise UserError(
                    _(
                        "{option} needs a camera; here a file is played as fast as it goes, "
                        "assist live plays one with --real-time",
                        option=option,
                    )
                )
            raise UserError(
                _("{option} needs a camera, or a file played with --real-time", option=option)
            )
        sound = camera if self.sound is None else self.sound
        return Audible(sound, self.speech, check_volume(self.volume_percent))


@contextmanager
def open_listeners(
    audible: Audible,
    zone: FocusZone,
    say: Words,
    note: Callable[[str], None],
    more: Iterable[Listener] = (),
    notices: Notices | None = None,
    first_said: str = "",
) -> Iterator[Listeners]:
    """The listeners asked for, and `more`, closed at the end.

    first_said: what is said aloud before all else.

    What fails is told in a line by `note`, and by `notices`, which the run shows on the screen.
    """
    told = notices or Notices()
    listeners = list(more)
    speech = None
    if audible.speech:
        speech = Speech(
            lambda: find_engine(say.language, audible.volume_percent),
            told.telling(Trouble.NO_SPEECH, note),
            first_said=first_said,
        )
        listeners.append(speech)
    if audible.sound:
        hushed = (lambda: False) if speech is None else (lambda: speech.speaking)
        no_sound = told.telling(Trouble.NO_SOUND, note)
        listeners.append(Tones(zone, no_sound, audible.volume_percent, hushed))
    with Listeners(listeners, told.telling(Trouble.PART, note)) as group:
        yield group
