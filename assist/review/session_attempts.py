"""How reviewed pictures fit their session: what belongs to none of its attempts, or contradicts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from assist.base.words import _, _n
from assist.review.checked import CheckedPicture
from assist.review.figures import metres
from assist.review.matching import Match
from assist.review.sentence import Sentence
from assist.session.folder import Attempt

_CONTRADICTS_SD = 3.0
_MOVED_MEANWHILE_SD_M = 0.1
"""Between what the feed saw and the shutter somebody who stands sways, and somebody who does not
walks on."""


@dataclass(frozen=True, slots=True)
class Without:
    """Pictures without an attempt, and what is to be told of them.

    strange: whether they are known to belong to none.
    """

    words: str
    pictures: list[CheckedPicture]
    strange: bool = False


def without_attempt(
    pictures: list[CheckedPicture], record: list[Attempt], found: Match | None, session: str
) -> list[Without]:
    """The pictures of a review of that session that belong to none of its attempts, and why."""
    told = []
    dated = [p for p in pictures if p.attempt is None and p.taken_at is not None]
    timeless = [p for p in pictures if p.attempt is None and p.taken_at is None and not p.problem]
    if not record:
        words = _("session {name} holds no attempt that a picture could belong to", name=session)
        told.append(Without(words, []))
        return told
    if dated and found is not None:
        words = _n(
            "{n} picture belongs to no attempt of session {name}, by the time",
            "{n} pictures belong to no attempt of session {name}, by the time",
            len(dated),
            name=session,
        )
        told.append(Without(words, dated, True))
    elif dated:
        words = _(
            "no picture could be matched with the record of session {name} by time: the clocks "
            "differ, and there is too little to find by how much",
            name=session,
        )
        told.append(Without(words, []))
    if timeless:
        words = _n(
            "{n} without a time, so that the attempt is not known",
            "{n} without a time, so that the attempt is not known",
            len(timeless),
        )
        told.append(Without(words, timeless))
    return told


def names(pictures: list[CheckedPicture], most: int) -> str:
    """The files' names, and how many more there are."""
    shown = ", ".join(Path(p.file).name for p in pictures[:most])
    more = len(pictures) - most
    return _("{files} and {count} more", files=shown, count=more) if more > 0 else shown


def contradiction(picture: CheckedPicture, attempt: Attempt) -> tuple[str, ...]:
    """A note where the place that the picture shows cannot be the one that the feed told."""
    here_m, here_sd_m = picture.distance_m, picture.distance_sd_m
    there_m, there_sd_m = attempt.distance_m, attempt.standard_deviation_m
    if here_m is None or here_sd_m is None or there_m is None or there_sd_m is None:
        return ()
    sd_m = math.hypot(here_sd_m, there_sd_m, _MOVED_MEANWHILE_SD_M)
    if abs(here_m - there_m) <= _CONTRADICTS_SD * sd_m:
        return ()

    def note() -> str:
        return _(
            "the picture shows the eyes at {here}, where the feed told {there}: it is of another "
            "moment, or lens, sensor or feed are not as the set-up says",
            here=metres(here_m),
            there=metres(there_m),
        )

    return (Sentence(note),)
