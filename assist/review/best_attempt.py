"""The best attempt of a session: by its checked pictures, else by what the feed said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from assist.base.errors import UserError
from assist.base.reading import MOST_JSON_BYTES, parse_json, read_bytes
from assist.base.words import _
from assist.guidance.verdict import Verdict
from assist.review import bursts
from assist.review.checked import CheckedPicture
from assist.session.folder import Attempt


@dataclass(frozen=True)
class KeptReview:
    """A review that was kept in a session's folder: where its files lie, and what it says."""

    folder: Path
    pictures: list[CheckedPicture]


def read_review(session: Path) -> KeptReview:
    """The latest review kept in a session's folder; one without pictures where there is none."""
    found = sorted(session.glob("review*/review.json"), key=lambda p: p.stat().st_mtime)
    if not found:
        return KeptReview(session, [])
    content = read_bytes(found[-1], _("review {file}", file=found[-1]), MOST_JSON_BYTES)
    try:
        pictures = parse_json(content)["pictures"]
        checked = [CheckedPicture.model_validate(picture) for picture in pictures]
    except (ValueError, KeyError, TypeError) as error:  # pydantic's own kind is a ValueError
        raise UserError(
            _("review {file} cannot be read: run assist review again", file=found[-1])
        ) from error
    return KeptReview(found[-1].parent, checked)


def best_pictures(checked: Iterable[CheckedPicture]) -> dict[int, CheckedPicture]:
    """By attempt, the best of its pictures; those that belong to none are left out."""
    best: dict[int, CheckedPicture] = {}
    for picture in sorted(checked, key=bursts.goodness):
        if picture.attempt is not None:
            best.setdefault(picture.attempt, picture)
    return best


def best_attempt(attempts: list[Attempt], reviewed: dict[int, CheckedPicture]) -> Attempt | None:
    """The attempt whose picture is sharpest; without checked pictures, the likeliest in focus.

    Of one that was not called in focus, the probability may rest on what was doubted: on who it
    was, or how tall. So it comes after those that were.
    """
    known = [a for a in attempts if a.attempt in reviewed]
    if known:
        return min(known, key=lambda a: bursts.goodness(reviewed[a.attempt]))
    able = [a for a in attempts if a.distance_m is not None]
    return max(able, key=lambda a: (called_in_focus(a), a.p_in_focus), default=None)


def called_in_focus(attempt: Attempt) -> bool:
    """Whether the feed said so when the picture was taken."""
    return attempt.verdict == Verdict.IN_FOCUS.value
