"""Triggers: what takes the picture when the countdown reaches zero."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from assist.base.images import ColourImage
from assist.base.trouble import Trouble
from assist.base.words import _


@dataclass(frozen=True, slots=True)
class Fired:
    """What came of firing.

    picture: the file made, if any.   problem: what went wrong, in one line; "" where nothing did.
    exit_code: that of a command of the user's.   on_card: the picture's path on the camera's card.
    trouble: the kind of problem, for the person; that of the trigger itself if left out.
    others: further files of the same picture, such as the raw beside the JPEG.
    released_s: when the shutter was released, by `time.monotonic`; None where nobody knows better
    than the order.   to_fetch: whether files are still to be had by `Trigger.fetch`.
    """

    trigger: str
    picture: Path | None = None
    problem: str = ""
    exit_code: int | None = None
    on_card: str = ""
    trouble: Trouble | None = None
    others: tuple[Path, ...] = ()
    released_s: float | None = None
    to_fetch: bool = False

    @property
    def failed(self) -> bool:
        """Whether there is no picture, as far as is known."""
        return bool(self.problem) and self.picture is None and not self.on_card


class Trigger(Protocol):
    """Takes the picture. Must not raise for anything that can happen in the field.

    It may take its time: a run fires it on a thread of its own (`trigger.background`) and asks
    later what came of it. It is never called again before the call before has returned.

    What has a default here, a class that names this one as its base need not define.
    """

    name: str = "trigger"
    """What it is called in the record."""
    hears: bool = True
    """Whether it learns that a picture was taken."""
    needs_picture: bool = False
    """Whether it is of no use without a fresh picture of the feed."""
    limit_s: float = 30.0
    """How long a firing may take; after that it is broken off, and told as failed."""
    last_word_s: float = 0.0
    """How long a firing that was broken off gets to say what came of it, before it is told that
    nobody knows."""

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Take it; `picture` is the feed's own picture at this moment, unmirrored."""
        ...

    def fetch(self, fired: Fired, attempt: int) -> Fired:
        """Fetch what `fire` left for later, once no other picture is waited for."""
        del attempt
        return fired

    def idle(self) -> None:
        """Called now and then while there is nothing to do, on the thread that fires."""
        return

    def abort(self, attempt: int, why: str) -> None:
        """Have the firing of that attempt return soon, where that can be done.

        Called on another thread than `fire`, which may have returned meanwhile or not yet begun.
        `why` ends a sentence: "after 30 s".
        """
        del attempt, why

    def given_up(self, attempt: int, problem: str) -> Fired:
        """What is known of a firing that has not returned and is waited for no longer.

        Called on another thread than `fire`. `problem` says that it has not, in one line.
        """
        del attempt
        problem = _("{problem}; what came of it is not known", problem=problem)
        return Fired(self.name, None, problem, trouble=Trouble.HANGS)

    def close(self) -> None:
        """Let go of the camera or whatever it holds; safe to call twice."""
        ...
