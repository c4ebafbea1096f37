"""The earlier picture to match, chosen from a session."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from assist import session
from assist.best import best_attempt, best_pictures, read_reviews
from assist.errors import UserError
from assist.feed.image_folder import read_picture
from assist.pose import ColourImage, Pose, PoseDetector
from assist.session import Attempt


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier attempt: its picture, upright and unmirrored, and the pose in it if any."""

    attempt: Attempt
    picture: ColourImage
    pose: Pose | None


def choose(folder: Path, number: int | None) -> tuple[Attempt, Path]:
    """The attempt to repeat and its picture: the one asked for, else the best that has a picture.

    Raises UserError when there is none.
    """
    if not session.is_session(folder):
        raise UserError(f"{folder} is not a session: it holds no {session.SET_UP_FILE}")
    record = session.read_record(folder)
    # A record from elsewhere must not lead to pictures elsewhere: plain names only.
    having = [
        a
        for a in record
        if a.picture and not set(a.picture) & set("/\\\0") and (folder / a.picture).is_file()
    ]
    if number is not None:
        having = [a for a in having if a.attempt == number]
        if not having:
            raise UserError(f"session {folder} has no picture of attempt {number}")
    best = best_attempt(having, best_pictures(read_reviews(folder)))
    best = best or (having[-1] if having else None)
    if best is None or best.picture is None:
        raise UserError(
            f"session {folder} holds no picture to repeat: take one there with assist live first"
        )
    return best, folder / best.picture


def load(folder: Path, number: int | None, detector: PoseDetector) -> Earlier:
    """Read the picture and find the pose in it."""
    attempt, path = choose(folder, number)
    picture = read_picture(path)
    if picture is None:
        raise UserError(f"picture {path} cannot be read")
    poses = detector.detect(picture, 0.0) or []
    return Earlier(attempt, picture, poses[0] if poses else None)
