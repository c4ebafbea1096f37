"""Pictures that the program kept from its feed: another lens's, or less than the camera's own file.

They are kept to tell what stood in the frame. How far away the person was is measured by the feed's
angle of view, as in the run itself; sharpness is the camera's own file's to tell.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from assist.calibrate.feed_profile import FeedProfile
from assist.distance import BodyDistance
from assist.distance.offset import seen_from_taking
from assist.pose import Pose
from assist.review.checked import Cause, CheckedPicture, Sharpness
from assist.review.optics_of import TakenWith
from assist.session import Attempt
from assist.set_up import SetUp
from assist.trigger.frame import NAME as FEED_TRIGGER
from optics.camera import PinholeCamera
from optics.sensor import Sensor

OWN_LENS = "a picture of the feed, seen by a lens of its own: focus is not to be told from it"
LOOK_AT_FILE = "look at the camera's own file at 100 %"


@dataclass(frozen=True)
class FeedPictures:
    """Which pictures are the feed's, by name, and what it sees with.

    set_up: that of the run.   profile: what a calibration learned of the feed, where it was used.
    """

    names: frozenset[str]
    set_up: SetUp
    profile: FeedProfile | None = None

    @classmethod
    def of_record(
        cls, record: Iterable[Attempt], set_up: SetUp | None, profile: FeedProfile | None = None
    ) -> FeedPictures | None:
        """Those that a record names; None where it names none, or nothing is known of the feed."""
        names = frozenset(a.picture for a in record if a.picture and a.trigger == FEED_TRIGGER)
        return cls(names, set_up, profile) if names and set_up is not None else None

    def __contains__(self, path: Path) -> bool:
        return path.name in self.names

    @property
    def own_lens(self) -> bool:
        """Whether the feed sees through another lens than the camera's, as a webcam does."""
        return self.set_up.feed.through == "own-lens"

    def camera(self, width_px: int, height_px: int) -> PinholeCamera | None:
        """The feed's camera for its picture of that size; None where its view is not known."""
        if self.profile is not None:
            return self.profile.camera(width_px, height_px)
        if self.set_up.feed.profile is not None:
            return None  # the run saw with a profile that is not at hand
        return self.set_up.feed_camera(width_px, height_px)

    def from_taking(
        self, measured: BodyDistance, pose: Pose, camera: PinholeCamera
    ) -> BodyDistance:
        """A distance from the feed's camera as one from the taking camera, where they differ."""
        offset = self.set_up.feed.offset
        return measured if offset is None else seen_from_taking(measured, pose, camera, offset)

    def seen_with(self, lens: TakenWith) -> TakenWith:
        """The lens with the part of its sensor that the feed shows."""
        crop = 1.0 if self.own_lens else self.set_up.feed.crop
        sensor = Sensor(lens.sensor.width_m / crop, lens.sensor.height_m / crop)
        return replace(lens, sensor=sensor, pixel_pitch_m=lens.pixel_pitch_m / crop)


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
