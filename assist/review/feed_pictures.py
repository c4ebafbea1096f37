"""Pictures that the program kept from its feed: another lens's, or less than the camera's own file.

They are kept to tell what stood in the frame. How far away the person was is measured as in the run
itself, by the feed's angle of view; sharpness is the camera's own file's to tell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from assist.base.errors import UserError
from assist.base.words import _
from assist.camera.frame import NAME as FEED_TRIGGER
from assist.distance import BodyDistance
from assist.distance.engine import DistanceEngine
from assist.distance.offset import seen_from_taking
from assist.pose import Pose
from assist.review.checked import Cause, CheckedPicture, Sharpness
from assist.review.sentence import Sentence, told
from assist.session import folder as sessions
from assist.session.folder import Attempt
from assist.setup import feed_profile
from assist.setup import personal_profile as personal
from assist.setup import set_up as set_ups
from assist.setup.body import Person
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp
from optics.errors import ImpossibleValueError

OWN_LENS = Sentence(
    lambda: _("a picture of the feed, seen by a lens of its own: focus is not to be told from it")
)
LOOK_AT_FILE = Sentence(lambda: _("look at the camera's own file at 100 %"))

Profile = TypeVar("Profile")


@dataclass(frozen=True)
class Feed:
    """What one attempt's feed saw with.

    geometry: None where it is not known any more, as when a profile of the run is not at hand.
    """

    set_up: SetUp
    geometry: FeedGeometry | None

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

        That is also where a profile of the run is of another shape.
        """
        geometry = self.geometry
        if geometry is None:
            return None
        try:
            camera = geometry.camera(width_px, height_px)
        except (UserError, ImpossibleValueError):
            return None
        person = self.set_up.person
        known = Person(person.stature_m, geometry.person, person.stature_measured)
        measured = DistanceEngine(camera, known, focal_sd=geometry.distance_sd).measure(pose)
        if not isinstance(measured, BodyDistance):
            return None
        offset = geometry.offset
        return measured if offset is None else seen_from_taking(measured, pose, camera, offset)


class FeedPictures:
    """Which pictures are a feed's, and what it saw with: those that a session's record names."""

    def __init__(self, record: Iterable[Attempt], folder: Path) -> None:
        self._folder = folder
        self._profile = _of_file(feed_profile.load, folder / sessions.FEED_PROFILE_FILE)
        self._person = _of_file(personal.load, folder / sessions.PROFILE_FILE)
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
            set_up = set_ups.from_values(attempt.set_up)
        except UserError:
            return None
        return Feed(set_up, self._geometry_of(set_up))

    def _geometry_of(self, set_up: SetUp) -> FeedGeometry | None:
        # Another run of the session may have had a profile of the feed.
        profile = None if set_up.feed.profile is None else self._profile
        if isinstance(profile, UserError) or isinstance(self._person, UserError):
            return None
        try:
            return FeedGeometry.of(set_up, profile, self._person)
        except UserError:
            return None


def _of_file(load: Callable[[Path], Profile], path: Path) -> Profile | UserError | None:
    """What a file holds; None without a file, and why it cannot be read where it cannot."""
    try:
        return load(path) if path.is_file() else None
    except UserError as error:
        return error


def softened(picture: CheckedPicture) -> CheckedPicture:
    """Not called out of focus for blur alone: a feed's compression and scaling soften it as well.

    What other places in the same picture tell (sharper nearer, sharper farther, a smear) stands.
    """
    if picture.verdict == Sharpness.SHARP.value or picture.cause != Cause.DEFOCUS.value:
        return picture

    def why() -> str:
        return _(
            "{blur}; a picture of the feed, which its video softens: focus is not to be told from "
            "it",
            blur=told(picture.why).partition(";")[0],
        )

    return picture.model_copy(
        update={
            "verdict": Sharpness.NOT_SURE.value,
            "cause": Cause.UNKNOWN.value,
            "why": Sentence(why),
            "change": LOOK_AT_FILE,
        }
    )
