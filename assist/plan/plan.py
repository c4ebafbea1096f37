"""A plan: everything that follows from one set-up, as plain values in SI units.

Distances start at the sensor plane, as a tape does, and run along the optical axis unless a name
says otherwise; the focus zone alone knows both datums.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assist.guidance.narrow_zone import NarrowZone
from assist.setup.set_up import SetUp
from optics import framing, walking
from optics.blur_seen import BlurSeen
from optics.focus_zone import FocusZone

ROUNDING = 1e-9
"""Share of a distance by which one that was worked out to just fit may miss."""


@dataclass(frozen=True)
class FieldCovered:
    """Width and height that the picture covers at a distance."""

    at: str
    distance_m: float
    width_m: float
    height_m: float


@dataclass(frozen=True)
class ShotFit:
    """A shot size: whether it fits at the focus distance, and the nearest distance it fits at.

    fits_from_m: infinite where it fits from nowhere.
    """

    name: str
    fits: bool
    fits_from_m: float


@dataclass(frozen=True)
class PlannedPerson:
    """The person's heights above the ground, as the plan takes them.

    posture_is_assumed: nobody stated it, and standing was taken.   seat_height_m: None standing.
    before_eyes_m: how much nearer to the camera than the eyes the toes of a seated person are.
    """

    posture: Literal["standing", "seated"]
    posture_is_assumed: bool
    stature_m: float
    stature_is_assumed: bool
    seat_height_m: float | None
    seat_height_is_assumed: bool
    crown_m: float
    eyes_m: float
    before_eyes_m: float

    @property
    def is_seated(self) -> bool:
        """Whether the person sits."""
        return self.posture == "seated"


@dataclass(frozen=True)
class PlannedFraming:
    """What of the person the picture holds, camera upright and aimed at the middle of it.

    named: the shot size wanted, else the loosest that fits; None when not even the tightest does.
    looser_by: frame height beyond that from where the shot size just fits, as a share; negative
    when it is short.
    """

    orientation: str
    named: str | None
    looser_by: float | None
    sizes: tuple[ShotFit, ...]
    aim: framing.Aim

    @property
    def short_of(self) -> ShotFit | None:
        """The shot size that does not fit, where one is wanted and does not."""
        if self.looser_by is None or self.looser_by >= -ROUNDING:
            return None
        return next(size for size in self.sizes if size.name == self.named)


@dataclass(frozen=True)
class BlurAt:
    """How soft something is at a distance."""

    at: str
    distance_m: float
    seen: BlurSeen


@dataclass(frozen=True)
class Diffraction:
    """The aperture's own softening.

    total_*: with defocus, an engineering estimate. softens_beyond: f-number at which the Airy disc
    alone fills the criterion. sharpest_for_zone: f-number with the least total blur at the limits
    of the present zone; None when the zone has no far limit.
    """

    airy_m: float
    total_at_focus_m: float
    total_at_limits_m: float
    softens_beyond_f_number: float
    sharpest_for_zone_f_number: float | None


@dataclass(frozen=True)
class ApertureChange:
    """What another aperture would give and cost.

    stops: light lost against the present aperture, negative when gained. shutter, iso: what
    restores the exposure, the other being kept; None off the dial or when exposure is not known.
    """

    aperture: str
    f_number: float
    stops: float
    in_front_m: float
    behind_m: float
    airy_m: float
    shutter: str | None
    iso: str | None


@dataclass(frozen=True)
class ExposurePair:
    """A shutter time and ISO speed that expose rightly. holds: names of movements it freezes."""

    shutter: str
    shutter_s: float
    iso: str
    freezes: tuple[str, ...]


@dataclass(frozen=True)
class PlannedExposure:
    """Light and the ways to expose for it at the present aperture."""

    light_ev100: float | None
    light_from: str | None
    shutter_s: float | None
    iso: float | None
    pairs: tuple[ExposurePair, ...]
    apertures: tuple[ApertureChange, ...]


@dataclass(frozen=True)
class MotionLimit:
    """The longest shutter time that keeps a movement within the criterion.

    shutter: the next faster setting of the dial; None when even its fastest is too slow.
    usual: the setting that is usual for it, where that is faster still.
    blur_m: streak at the set-up's own shutter time, None when that is not given.
    """

    movement: str
    speed_m_s: float
    longest_s: float
    shutter: str | None
    usual: str | None
    blur_m: float | None


@dataclass(frozen=True)
class Recomposing:
    """Focus on the eyes with the middle of the frame, then turn back to the framing.

    share_of_room: of the room before the mark that the shift eats.
    """

    angle_rad: float
    shift_m: float
    share_of_room: float
    blur_m: float


@dataclass(frozen=True)
class Walk:
    """Getting from the camera to the mark; shortest_timer_s is None when no delay suffices."""

    path_m: float
    speed_m_s: float
    needed_s: float
    timers: tuple[walking.TimerChoice, ...]
    shortest_timer_s: float | None


@dataclass(frozen=True)
class GroundMark:
    """Where to tape: along the ground from under the sensor mark, or stretched from it."""

    at: str
    along_ground_m: float
    stretched_m: float


@dataclass(frozen=True)
class Plan:
    """The whole answer for one set-up.

    focus_set_by: the shot size that the focus distance was worked out for; None for a given one.
    zoom_set_by: the same of a zoom's focal length.
    hyperfocal_m: from the sensor plane.
    narrow: what to do about a zone that is too narrow for the live run; None where it is not.
    """

    set_up: SetUp
    focus_set_by: str | None
    zone: FocusZone
    hyperfocal_m: float
    fields: tuple[FieldCovered, ...]
    person: PlannedPerson
    framing: PlannedFraming
    blurs: tuple[BlurAt, ...]
    diffraction: Diffraction
    exposure: PlannedExposure
    motion: tuple[MotionLimit, ...]
    recomposing: Recomposing
    walk: Walk
    ground_marks: tuple[GroundMark, ...]
    narrow: NarrowZone | None = None
    zoom_set_by: str | None = None
