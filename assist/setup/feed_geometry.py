"""How a feed sees: its camera, how well that is known, and where it stands. Decided here alone.

A feed is told of in several places: the taking lens, a stated angle of view, a profile that a
calibration made. Which of them goes before which is settled once, or distances would differ from
one command to the next.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.base.errors import UserError, shown
from assist.base.words import _, current
from assist.setup.feed_profile import MARKED_LENS_SD, STATED_VIEW_SD, FeedProfile
from assist.setup.personal_profile import PersonalProfile
from assist.setup.set_up import CameraPart, FeedPart, LensPart, SetUp
from optics.camera import PinholeCamera
from optics.rigid import RigidOffset
from optics.sensor import sensor_from_name

_GUESSED_VIEW_RAD = math.radians(60)
_GUESSED_VIEW_SD = 0.2
UNKNOWN_CROP_SD = 0.03
"""How far a video output may show less of the sensor than its full width where nobody said, as a
share of the focal length: many cameras crop a little for stabilisation or readout. Common practice,
no source."""
_SOME_CAMERA = CameraPart()  # type: ignore[call-arg]
_LEAST_FOCAL_SD = 0.001
_MISREAD = 0.12
"""How far a zoom's focal length may be misread between two engraved ones, relative. Common
practice, no source."""
_BREATHING = 0.20
"""By how much of its focal length a lens may depart from the engraved one as it is focused nearer.
Common practice, no source. A board or marks see it; what was worked out from the engraving does
not."""


def breathing_sd(focal_length_m: float, focus_m: float) -> float:
    """How far an angle of view worked out from the engraved focal length may be off, relative.

    focus_m: where the lens is focused, from the lens.
    Focused nearer, a lens that moves out as a whole sees less, by m = f / (s - f); one that moves
    groups within sees as much as before, or more. Which of them a lens is stands nowhere on it. It
    is taken to be the first, and every other one not to be: m / sqrt 2. Common practice, no source.
    """
    return math.sqrt(0.5) * focal_length_m / max(focus_m - focal_length_m, focal_length_m)


def marked_lens_sd(lens: LensPart) -> float:
    """How far what a lens sees, as it is set, may be off what its engraving says, relative."""
    breathing = breathing_sd(lens.focal_length_m, lens.focus_lens_distance_m)
    return math.hypot(MARKED_LENS_SD, breathing)


@dataclass(frozen=True)
class FeedGeometry:
    """One feed as it is told of, and what follows.

    feed: what is stated of it.   taking, lens: the taking camera, and its lens as it is set; None
        where nobody said.
    profile: what a calibration found of the feed; goes before what is stated.
    person: a profile learned at marks, which makes up for a wrong focal length.

    Raises UserError where the feed's profile is named but not given, and where it cannot be one of
    the lens that the feed comes through.
    """

    feed: FeedPart
    taking: CameraPart = _SOME_CAMERA
    lens: LensPart | None = None
    profile: FeedProfile | None = None
    person: PersonalProfile | None = None

    @classmethod
    def of(
        cls,
        set_up: SetUp,
        profile: FeedProfile | None = None,
        person: PersonalProfile | None = None,
    ) -> FeedGeometry:
        """The feed of a set-up, with the profiles that are in use."""
        return cls(set_up.feed, set_up.camera, set_up.lens, profile, person)

    def __post_init__(self) -> None:
        if self.profile is None and self.feed.profile is not None:
            raise UserError(
                _(
                    "the set-up names the feed profile {profile}, which is not there",
                    profile=shown(self.feed.profile),
                )
            )
        off = self.off_the_lens
        if self.profile is None or self.lens is None or off is None:
            return
        most = _MISREAD + 2 * self.profile.focal_sd
        if self.profile.method != "lens":
            most += _BREATHING
        if abs(math.log1p(off)) > most:
            raise UserError(self._of_another_lens(self.profile, self.lens, off))

    @staticmethod
    def _of_another_lens(profile: FeedProfile, lens: LensPart, off: float) -> str:
        figures = {
            "learned": f"{lens.focal_length_mm * (1 + off):.0f}",
            "stated": current().decimal(f"{lens.focal_length_mm:g}"),
        }
        if profile.basis:
            return _(
                "the feed's profile ({basis}) is one of a lens of about {learned} mm, and the "
                "set-up's has {stated} mm: calibrate anew, leave the profile out, or, if the feed "
                "has a lens of its own, say through own-lens",
                basis=profile.basis,
                **figures,
            )
        return _(
            "the feed's profile is one of a lens of about {learned} mm, and the set-up's has "
            "{stated} mm: calibrate anew, leave the profile out, or, if the feed has a lens of its "
            "own, say through own-lens",
            **figures,
        )

    @property
    def own_lens(self) -> bool:
        """Whether the feed sees through another lens than the camera's, as a webcam does."""
        return self.feed.through == "own-lens"

    @property
    def off_the_lens(self) -> float | None:
        """How much longer the profile's focal length is than lens, sensor and crop give, relative.

        None without a profile, without a lens, and of a feed that does not come through the lens.
        """
        if self.profile is None or self.lens is None or self.own_lens:
            return None
        by_lens = self._through(self.lens, self.profile.width_px, self.profile.height_px)
        return self.profile.fx_px / by_lens.fx_px - 1

    @property
    def off_in_words(self) -> str:
        """A line where the profile and the lens differ by more than they should; else nothing."""
        off = self.off_the_lens
        if off is None or self.profile is None:
            return ""
        if abs(off) <= 2 * math.hypot(MARKED_LENS_SD, self.profile.focal_sd):
            return ""
        by = f"{abs(off):.0%}"
        if off > 0:
            return _(
                "the feed's profile has a focal length {by} longer than lens, sensor and crop "
                "give; if lens, zoom or focus were changed since it was made, distances are wrong "
                "by as much: then calibrate anew",
                by=by,
            )
        return _(
            "the feed's profile has a focal length {by} shorter than lens, sensor and crop give; "
            "if lens, zoom or focus were changed since it was made, distances are wrong by as "
            "much: then calibrate anew",
            by=by,
        )

    @property
    def mirrored(self) -> bool:
        """Whether the feed mirrors its own picture, which is put right before it is looked at."""
        return self.feed.mirrored or (self.profile is not None and self.profile.mirrored)

    def camera(self, width_px: int, height_px: int) -> PinholeCamera:
        """Intrinsics of the feed for its picture of that size.

        Raises UserError where the profile was learned at another shape.
        """
        if self.profile is not None:
            learned = self.profile.camera(width_px, height_px)
            return learned.mirrored() if self.mirrored else learned
        view = self.feed.stated_view
        if view is not None:
            along, angle_deg = view
            return PinholeCamera.from_field_of_view(
                math.radians(angle_deg), width_px, height_px, along
            )
        if self.lens is not None:
            return self._through(self.lens, width_px, height_px)
        return PinholeCamera.from_field_of_view(_GUESSED_VIEW_RAD, width_px, height_px)

    def _through(self, lens: LensPart, width_px: int, height_px: int) -> PinholeCamera:
        return PinholeCamera.from_lens(
            sensor_from_name(self.taking.sensor),
            lens.focal_length_m,
            lens.focus_lens_distance_m,
            width_px,
            height_px,
            self.feed.crop,
        )

    @property
    def focal_sd(self) -> float | None:
        """Relative standard deviation of the camera's focal length; None where it is a guess."""
        if self.profile is not None:
            return max(self.profile.focal_sd, _LEAST_FOCAL_SD)
        if self.feed.stated_view is not None:
            return STATED_VIEW_SD
        return None if self.lens is None else MARKED_LENS_SD

    @property
    def distance_sd(self) -> float:
        """What of that a distance told in the run suffers, relative.

        A profile learned at a mark makes up for a wrong focal length: it holds its product with the
        size of the body. What is merely stated is known as well as people and makers state it.
        """
        if self.person is not None:
            return 0.0
        stated = _GUESSED_VIEW_SD if self.focal_sd is None else self.focal_sd
        if self.profile is not None or self.feed.stated_view is not None or self.lens is None:
            return stated
        if "crop" not in self.feed.model_fields_set:
            return math.hypot(marked_lens_sd(self.lens), UNKNOWN_CROP_SD)
        return marked_lens_sd(self.lens)

    # -- where it stands ----------------------------------------------------------------------

    @property
    def offset(self) -> RigidOffset | None:
        """Where the feed's camera stands against the taking camera; None where it is the same."""
        return self.feed.offset

    @property
    def behind_m(self) -> float:
        """How far the taking camera's sensor plane lies behind the feed's lens, metres."""
        return (0.0 if self.lens is None else self.lens.sensor_offset_m) + self.feed.along_m

    @property
    def tilt_rad(self) -> float | None:
        """Tilt of the feed's camera, downwards positive; None where nobody said."""
        tilt_deg = self.taking.tilt_deg
        return None if tilt_deg is None else math.radians(tilt_deg - self.feed.pitch_deg)

    @property
    def height_m(self) -> float | None:
        """Height of the feed's lens above the ground, metres; None where nobody said."""
        height_m = self.taking.height_m
        return None if height_m is None else height_m + self.feed.up_m
