"""The picture of an attempt: that in the session's folder, or the small one of its review."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from assist.base.image_files import RAW_ENDINGS
from assist.camera.frame import NAME as FEED_TRIGGER
from assist.review.best_attempt import KeptReview, best_pictures
from assist.review.checked import CheckedPicture
from assist.session.folder import Attempt


@dataclass(frozen=True, slots=True)
class Kept:
    """An attempt and the file of its picture.

    of_camera: whether it is the camera's own picture, and not one of the feed.
    """

    attempt: Attempt
    path: Path
    of_camera: bool


def picture_of(attempt: Attempt, folder: Path, review: KeptReview) -> Kept | None:
    """The attempt's picture in the session's folder, else the best one that was reviewed."""
    own = attempt.picture
    # A record from elsewhere must not lead to pictures elsewhere: plain names only.
    named = bool(own) and not set(own or "") & set("/\\\0")
    path = folder / (own or "")
    if named and path.suffix.lower() not in RAW_ENDINGS and path.is_file():
        return Kept(attempt, path, attempt.trigger != FEED_TRIGGER)
    mine = [p for p in review.pictures if p.attempt == attempt.attempt and _small(p, review)]
    best = best_pictures(mine).get(attempt.attempt)
    if best is None:
        return None
    of_feed = attempt.trigger == FEED_TRIGGER and Path(best.file).name == Path(own or "").name
    return Kept(attempt, review.folder / (best.thumbnail or ""), not of_feed)


def _small(picture: CheckedPicture, review: KeptReview) -> bool:
    """Whether its small picture is still there."""
    return picture.thumbnail is not None and (review.folder / picture.thumbnail).is_file()
