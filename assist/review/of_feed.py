"""Pictures that the program kept from its feed: another lens's, or less than the camera's own file.

They are kept to tell what stood in the frame. How far away the person was is measured as in the run
itself, by the feed's angle of view; sharpness is the camera's own file's to tell.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from assist import profile as personal
from assist import session as sessions
from assist import set_up as set_ups
from assist.body import Person
from assist.calibrate import feed_profile
from assist.distance import BodyDistance
from assist.distance.engine import DistanceEngine
from assist.distance.offset import seen_from_taking
from assist.errors import UserError
from assist.pose import Pose
from assist.review.checked import Cause, CheckedPicture, Sharpness
from assist.session import Attempt
from assist.set_up import SetUp
from assist.trigger.frame import NAME as FEED_TRIGGER
from optics.checks import ImpossibleValueError

OWN_LENS = "a picture of the feed, seen by a lens of its own: focus is not to be told from it"
LOOK_AT_FILE = "look at the camera's own file at 100 %"


@dataclass(frozen=True)
class Feed:
    """What one attempt's feed saw with: the set-up of that attempt, and the session's profiles."""

    set_up: SetUp
    folder: Path

    @property
    def own_lens(self) -> bool:
        """Whether it sees through another lens than the camera's, as a webcam does."""
        return self.set_up.feed.through == "own-lens"

    @property
    def crop(self) -> float:
        """Width of the sensor over the width that the feed shows."""
        return self.set_up.feed.crop

    def measure(self, pose: Pose, width_px: int, height_px: int) -> BodyDistance | None:
        """Where the body is, from the taking camera; None where that is not to be told.

        That is also where a profile of the run is no longer at hand, or is of another shape.
        """
        try:
            named = self.set_up.feed.profile is not None
            learned = self.folder / sessions.FEED_PROFILE_FILE if named else None
            own = self.folder / sessions.PROFILE_FILE
            feed = None if learned is None else feed_profile.load(learned)
            person = personal.load(own) if own.is_file() else None
            camera = (self.set_up.feed_camera if feed is None else feed.camera)(width_px, height_px)
        except (UserError, ImpossibleValueError):
            return None
        focal_sd = 0.0 if feed is None or person is not None else feed.focal_sd
        known = Person(self.set_up.person.stature_m, person)
        measured = DistanceEngine(camera, known, focal_sd=focal_sd).measure(pose)
        if not isinstance(measured, BodyDistance):
            return None
        offset = self.set_up.feed.offset
        return measured if offset is None else seen_from_taking(measured, pose, camera, offset)


class FeedPictures:
    """Which pictures are a feed's, and what it saw with: those that a session's record names."""

    def __init__(self, record: Iterable[Attempt], folder: Path) -> None:
        self._folder = folder
        self._attempts = {
            Path(a.picture).name: a for a in record if a.picture and a.trigger == FEED_TRIGGER
        }

    def feed_of(self, picture: Path) -> Feed | None:
        """The feed that a picture was kept from; None where it was not, or nothing is known of it.

        A picture of the same name in another session's folder is another picture.
        """
        attempt = self._attempts.get(picture.name)
        if attempt is None or attempt.picture is None:
            return None
        place = picture.absolute().parent
        known = (self._folder.absolute(), Path(attempt.picture).absolute().parent)
        if place not in known and sessions.is_session(place):
            return None
        try:
            return Feed(set_ups.from_values(attempt.set_up), self._folder)
        except UserError:
            return None


def softened(picture: CheckedPicture) -> CheckedPicture:
    """Not called out of focus for blur alone: a feed's compression and scaling soften it as well.

    What other places in the same picture tell (sharper nearer, sharper farther, a smear) stands.
    """
    if picture.verdict == Sharpness.SHARP.value or picture.cause != Cause.DEFOCUS.value:
        return picture
    return picture.model_copy(
        update={
            "verdict": Sharpness.NOT_SURE.value,
            "cause": Cause.UNKNOWN.value,
            "why": f"{picture.why.partition(';')[0]}; a picture of the feed, which its video "
            "softens: focus is not to be told from it",
            "change": LOOK_AT_FILE,
        }
    )
