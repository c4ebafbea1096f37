"""The photographs of a session for its report: the best ones, small, each with its eyes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import cv2

from assist.feed.image_folder import read_picture
from assist.review import bursts
from assist.review.best_attempt import KeptReview, called_in_focus
from assist.review.checked import CheckedPicture
from assist.review.kept_picture import picture_of
from assist.session.folder import Attempt

MOST_SHOWN = 12
_LONG_SIDE_PX = 640
_JPEG_QUALITY = 88


@dataclass(frozen=True)
class Photograph:
    """One of them.

    jpeg: the whole picture, small.   eyes_jpeg: the eyes, one pixel of the picture one pixel; None
    where none were found.   checked: what its review says; None where it was not reviewed.
    of_camera: whether the camera took it, and not the feed.
    """

    attempt: Attempt
    jpeg: bytes
    eyes_jpeg: bytes | None
    checked: CheckedPicture | None
    of_camera: bool


def photographs(
    folder: Path,
    attempts: Iterable[Attempt],
    review: KeptReview,
    reviewed: dict[int, CheckedPicture],
) -> list[Photograph]:
    """Up to MOST_SHOWN of them, the best first; pictures that cannot be read are left out.

    reviewed: the best checked picture of each attempt.
    """

    def order(attempt: Attempt) -> tuple[object, ...]:
        checked = reviewed.get(attempt.attempt)
        if checked is not None:
            return (0, bursts.goodness(checked), attempt.attempt)
        return (1, not called_in_focus(attempt), attempt.attempt)

    shown: list[Photograph] = []
    for attempt in sorted(attempts, key=order):
        kept = picture_of(attempt, folder, review)
        jpeg = None if kept is None else _small_jpeg(kept.path)
        if kept is not None and jpeg is not None:
            checked = reviewed.get(attempt.attempt)
            eyes = _eyes(checked, review)
            shown.append(Photograph(attempt, jpeg, eyes, checked, kept.of_camera))
        if len(shown) == MOST_SHOWN:
            break
    return shown


def _small_jpeg(path: Path) -> bytes | None:
    picture = read_picture(path)
    if picture is None:
        return None
    scale = _LONG_SIDE_PX / max(picture.shape[:2])
    small = picture
    if scale < 1:
        size = (max(1, round(picture.shape[1] * scale)), max(1, round(picture.shape[0] * scale)))
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)  # type: ignore[assignment]
    written, content = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])
    return content.tobytes() if written else None


def _eyes(checked: CheckedPicture | None, review: KeptReview) -> bytes | None:
    """The crop that the review kept, as it is: enlarged or packed anew it would mislead."""
    if checked is None or checked.eyes_crop is None:
        return None
    crop = read_picture(review.folder / checked.eyes_crop)
    if crop is None:
        return None
    written, content = cv2.imencode(".jpg", crop, [cv2.IMWRITE_JPEG_QUALITY, 95])
    return content.tobytes() if written else None
