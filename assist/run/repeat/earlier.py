"""The earlier picture to match, chosen from a session."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import N_, _
from assist.feed.image_folder import read_picture
from assist.pose import Pose, PoseDetector
from assist.review.best_attempt import best_attempt, best_pictures, read_review
from assist.review.kept_picture import Kept, picture_of
from assist.session import folder as session
from assist.setup.set_up import SetUp
from optics.sensor import Sensor

_OTHER_VIEW = N_("(the camera's own is another view than this feed's, which has its own lens)")
_BEYOND = (90, 90, 90)
"""Where the feed shows more than the camera's picture does."""


class NothingToShowError(UserError):
    """The session has no picture to show over the feed. Its set-up can be repeated all the same."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier picture, upright and unmirrored, and the pose in it if any.

    sensor, crop: for the camera's own picture, its sensor, and the sensor's width over the width
        that the feed shows; sensor is None for a picture of the feed.
    """

    picture: ColourImage
    pose: Pose | None
    sensor: Sensor | None = None
    crop: float = 1.0

    def seen_by_feed(self, width_px: int, height_px: int) -> Earlier | None:
        """The part that a feed through the taking lens shows, in a picture of the feed's size.

        None where the camera was held the other way, upright or across. A picture of the feed is
        what it is.
        """
        if self.sensor is None:
            return self
        height, width = self.picture.shape[:2]
        if (width - height) * (width_px - height_px) < 0:
            return None
        scale = self.crop * (
            self.sensor.pixel_pitch_m(width, height)
            / self.sensor.pixel_pitch_m(width_px, height_px)
        )
        # Cut before it is scaled: of a small part the whole would become gigantic.
        left = int(max(0.0, (width - width_px / scale) / 2))
        top = int(max(0.0, (height - height_px / scale) / 2))
        part = self.picture[top : height - top, left : width - left]
        size = tuple(max(1, round(side * scale)) for side in part.shape[1::-1])
        way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
        scaled = cv2.resize(part, size, interpolation=way)
        place = np.array([[1, 0, (width_px - size[0]) // 2], [0, 1, (height_px - size[1]) // 2]])
        shown = cv2.warpAffine(
            scaled, place.astype(float), (width_px, height_px), borderValue=_BEYOND
        )
        pose = self.pose
        if pose is not None:
            middle, then = np.array([width_px, height_px]) / 2, np.array([width, height]) / 2
            pixels = (pose.image_px - then) * scale + middle
            pose = replace(pose, image_px=pixels, width_px=width_px, height_px=height_px, face=None)
        return Earlier(np.asarray(shown, dtype=np.uint8), pose)


def check(folder: Path) -> None:
    """Raises UserError where the folder is no session."""
    if not session.is_session(folder):
        raise UserError(
            _(
                "{folder} is not a session: it holds no {file}",
                folder=folder,
                file=session.SET_UP_FILE,
            )
        )


def choose(folder: Path, number: int | None, *, own_lens: bool) -> Kept:
    """The attempt to repeat and its picture: the one asked for, else the best that has a picture.

    The feed's picture goes before the camera's, of which the session has the small one of its
    review: a card is emptied, and its file names come again. With a feed that sees through a lens
    of its own, the camera's pictures show another view.

    Raises NothingToShowError when no attempt has one, and another UserError when the one asked for
    has none.
    """
    record = session.read_record(folder)
    review = read_review(folder)
    having = {a.attempt: kept for a in record if (kept := picture_of(a, folder, review))}
    usable = {n: kept for n, kept in having.items() if not (own_lens and kept.of_camera)}
    if number is not None:
        if number not in usable:
            line = _(
                "session {folder} has no picture of attempt {number}", folder=folder, number=number
            )
            raise UserError(f"{line} {_(_OTHER_VIEW)}" if number in having else line)
        return usable[number]
    attempts = [kept.attempt for kept in usable.values()]
    best = best_attempt(attempts, best_pictures(review.pictures))
    best = best or (attempts[-1] if attempts else None)
    if best is None:
        line = _("session {folder} holds no picture to repeat", folder=folder)
        why = _("(assist review --session {folder} brings the camera's in)", folder=folder)
        raise NothingToShowError(f"{line} {_(_OTHER_VIEW) if having else why}")
    return usable[best.attempt]


def load(kept: Kept, set_up: SetUp, detector: PoseDetector) -> Earlier:
    """Read the picture and find the pose in it, for a feed of that set-up.

    Raises NothingToShowError when it cannot be read.
    """
    picture = read_picture(kept.path)
    if picture is None:
        raise NothingToShowError(_("picture {path} cannot be read", path=kept.path))
    poses = detector.detect(picture, 0.0) or []
    pose = poses[0] if poses else None
    if not kept.of_camera:
        return Earlier(picture, pose)
    return Earlier(picture, pose, set_up.sensor, set_up.feed.crop)
