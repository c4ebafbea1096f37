"""Everything that follows from one set-up.

Distances in a result start at the sensor plane, as a tape does, and run along the optical axis
unless a name says otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from assist.setup.set_up import SetUp
from optics import diffraction, exposure, framing, ground_marks, lens, motion, recompose, walking
from optics.blur_seen import BlurSeen, blur_seen
from optics.figure import Figure


@dataclass(frozen=True)
class Zone:
    """Where things are acceptably sharp. far_m, behind_m and total_m may be infinite."""

    near_m: float
    focus_m: float
    far_m: float
    in_front_m: float
    behind_m: float
    total_m: float
    hyperfocal_m: float
    circle_of_confusion_m: float
    criterion: str


@dataclass(frozen=True)
class Field:
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
class Person:
    """The person's heights above the ground, as the plan takes them.

    posture_is_assumed: nobody stated it, and standing was taken.   seat_height_m: None standing.
    before_eyes_m: how much nearer to the camera than the eyes the toes of who sits are.
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
class Framing:
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
        if self.looser_by is None or self.looser_by >= -_ROUNDING:
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
class Exposure:
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
    blur_m: streak at the set-up's own shutter time, None when that is not given.
    """

    movement: str
    speed_m_s: float
    longest_s: float
    shutter: str | None
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
    """

    set_up: SetUp
    focus_set_by: str | None
    zone: Zone
    fields: tuple[Field, ...]
    person: Person
    framing: Framing
    blurs: tuple[BlurAt, ...]
    diffraction: Diffraction
    exposure: Exposure
    motion: tuple[MotionLimit, ...]
    recomposing: Recomposing
    walk: Walk
    ground_marks: tuple[GroundMark, ...]


@dataclass(frozen=True)
class _Optics:
    """Numbers that every part needs, distances from the lens."""

    set_up: SetUp
    f: float
    n: float
    s: float
    v: float
    c: float
    zone: lens.DepthOfField
    offset: float

    @classmethod
    def of(cls, set_up: SetUp) -> _Optics:
        f, s = set_up.focal_length_m, set_up.focus_lens_distance_m
        return cls(
            set_up,
            f,
            set_up.lens.f_number,
            s,
            float(lens.image_distance_m(f, s)),
            set_up.criterion.circle_of_confusion_m,
            set_up.depth_of_field,
            set_up.sensor_offset_m,
        )

    @property
    def sides_m(self) -> tuple[float, float]:
        return framing.frame_sides_m(self.set_up.sensor, self.set_up.camera.orientation)

    @property
    def width_px(self) -> int | None:
        """Pixels across the picture as the camera is held."""
        across = self.set_up.camera.picture_width_px
        if across is None or self.set_up.camera.orientation == "landscape":
            return across
        return round(across / max(self.set_up.sensor.aspect, 1 / self.set_up.sensor.aspect))

    @property
    def figure(self) -> Figure:
        return self.set_up.person.figure


def plan_of(set_up: SetUp, focus_set_by: str | None = None) -> Plan:
    """Compute the plan; ImpossibleValueError when the set-up's numbers exclude each other."""
    o = _Optics.of(set_up)
    limits = _motion_limits(o)
    framed = _framing(o)
    return Plan(
        set_up,
        focus_set_by,
        _zone(o),
        _fields(o),
        _person(o),
        framed,
        _blurs(o),
        _diffraction(o),
        _exposure(o, limits),
        limits,
        _recomposing(o, framed.aim),
        _walk(o, framed.aim),
        _ground_marks(o, framed.aim),
    )


def _zone(o: _Optics) -> Zone:
    hyperfocal = float(lens.hyperfocal_m(o.f, o.n, o.c))
    return Zone(
        o.zone.near_m + o.offset,
        o.s + o.offset,
        o.zone.far_m + o.offset,
        o.zone.in_front_m,
        o.zone.behind_m,
        o.zone.total_m,
        float(lens.lens_to_sensor_distance_m(o.f, hyperfocal)),
        o.c,
        o.set_up.criterion.basis,
    )


def _fields(o: _Optics) -> tuple[Field, ...]:
    width, height = o.sides_m
    places = (("near limit", o.zone.near_m), ("mark", o.s), ("far limit", o.zone.far_m))
    return tuple(
        Field(
            at,
            z + o.offset,
            float(framing.field_covered_m(width, o.v, z)),
            float(framing.field_covered_m(height, o.v, z)),
        )
        for at, z in places
    )


def _person(o: _Optics) -> Person:
    stated, figure = o.set_up.person, o.figure
    return Person(
        "seated" if figure.is_seated else "standing",
        stated.posture == "auto",
        figure.stature_m,
        stated.stature_m is None,
        figure.seat_height_m,
        figure.is_seated and stated.seat_height_m is None,
        figure.crown_m,
        figure.eyes_m,
        figure.before_eyes_m,
    )


def wanted_of(set_up: SetUp, size: framing.ShotSize) -> framing.Wanted:
    """A shot size of this set-up's person, and how its camera is held for it."""
    camera = set_up.camera
    return framing.Wanted(
        size,
        set_up.person.figure,
        set_up.sensor,
        camera.orientation,
        set_up.framing.headroom,
        camera.height_m,
        camera.tilt_rad,
    )


_ROUNDING = 1e-9  # of a distance that was worked out to just fit


def _framing(o: _Optics) -> Framing:
    wanted = o.set_up.framing
    fits_from = {
        size.name: float(framing.focus_distance_to_fit_m(wanted_of(o.set_up, size), o.f))
        for size in framing.SHOT_SIZES
    }
    sizes = tuple(
        ShotFit(
            name,
            nearest <= o.s * (1 + _ROUNDING),
            float(lens.lens_to_sensor_distance_m(o.f, nearest)),
        )
        for name, nearest in fits_from.items()
    )
    fitting = [size.name for size in sizes if size.fits]
    named = (
        framing.shot_size(wanted.shot_size).name
        if wanted.shot_size
        else (fitting[0] if fitting else None)
    )
    shot = framing.shot_size(named) if named else framing.SHOT_SIZES[-1]
    angle = float(framing.angle_of_view_rad(o.sides_m[1], o.v))
    aim = framing.aim_for(wanted_of(o.set_up, shot), angle, o.s)
    return Framing(
        o.set_up.camera.orientation,
        named,
        (o.s - o.f) / (fits_from[named] - o.f) - 1 if named else None,
        sizes,
        aim,
    )


def _blurs(o: _Optics) -> tuple[BlurAt, ...]:
    places = [("near limit", o.zone.near_m), ("mark", o.s)]
    if math.isfinite(o.zone.far_m):
        places.append(("far limit", o.zone.far_m))
    background = o.set_up.place.background_distance_m
    if background is not None and math.isfinite(background):
        places.append(("background", background - o.offset))
    places.append(("infinity", math.inf))
    return tuple(
        BlurAt(at, z + o.offset, blur_seen(o.f, o.n, o.s, z, o.sides_m[0], o.width_px))
        for at, z in places
    )


def _diffraction(o: _Optics) -> Diffraction:
    m = float(lens.magnification(o.f, o.s))
    airy = float(diffraction.airy_diameter_m(o.n, m))
    sharpest = None
    if math.isfinite(o.zone.far_m):
        at_f1 = lens.blur_diameter_m(o.f, 1.0, o.s, o.zone.near_m)
        sharpest = float(diffraction.sharpest_f_number(at_f1, m))
    return Diffraction(
        airy,
        float(diffraction.total_blur_m(0.0, airy)),
        float(diffraction.total_blur_m(o.c, airy)),
        float(diffraction.f_number_for_airy_diameter(o.c, m)),
        sharpest,
    )


def _motion_limits(o: _Optics) -> tuple[MotionLimit, ...]:
    shutter = o.set_up.exposure.shutter_s
    limits = []
    for movement in motion.MOVEMENTS:
        speed = movement.speed_m_s
        longest = float(motion.longest_shutter_s(speed, o.c, o.f, o.s, o.s))
        setting = exposure.SHUTTER_TIMES.largest_within(longest)
        limits.append(
            MotionLimit(
                movement.name,
                speed,
                longest,
                setting.label if setting else None,
                None
                if shutter is None
                else float(motion.motion_blur_m(speed, shutter, o.f, o.s, o.s)),
            )
        )
    return tuple(limits)


@dataclass(frozen=True)
class _Light:
    """Light, shutter time and ISO, as far as they are given or follow from each other."""

    ev100: float | None
    source: str | None
    shutter_s: float | None
    iso: float | None

    @classmethod
    def of(cls, o: _Optics) -> _Light:
        given, n = o.set_up.exposure, exposure.APERTURES.nearest(o.n).exact
        ev, shutter, iso = given.light_ev100, given.shutter_s, given.iso
        if ev is None:
            if shutter is None or iso is None:
                return cls(None, None, shutter, iso)
            return cls(
                float(exposure.exposure_value_100(n, shutter, iso)), "exposure set", shutter, iso
            )
        if shutter is None and iso is not None:
            shutter = float(exposure.shutter_s(ev, n, iso))
        elif iso is None and shutter is not None:
            iso = float(exposure.iso_speed(ev, n, shutter))
        return cls(ev, "given", shutter, iso)


def _exposure(o: _Optics, limits: tuple[MotionLimit, ...]) -> Exposure:
    light = _Light.of(o)
    pairs: tuple[ExposurePair, ...] = ()
    if light.ev100 is not None:
        pairs = tuple(
            ExposurePair(
                pair.shutter.label,
                pair.shutter.exact,
                pair.speed.label,
                tuple(x.movement for x in limits if pair.shutter.exact <= x.longest_s),
            )
            for pair in exposure.pairs(light.ev100, o.n)
            if pair.speed.thirds % 3 == 0
        )
    return Exposure(
        light.ev100,
        light.source,
        light.shutter_s,
        light.iso,
        pairs,
        _aperture_changes(o, light),
    )


def _aperture_changes(o: _Optics, light: _Light) -> tuple[ApertureChange, ...]:
    part = o.set_up.lens
    m = float(lens.magnification(o.f, o.s))
    widest, narrowest = part.widest_f_number or 1.4, part.narrowest_f_number or 22.0
    present = exposure.APERTURES.nearest(o.n)
    changes = []
    for stop in exposure.APERTURES:
        if stop != present and (stop.thirds % 3 or not widest <= stop.nominal <= narrowest):
            continue
        zone = lens.depth_of_field(o.f, stop.nominal, o.s, o.c)
        stops = (stop.thirds - present.thirds) / 3
        shutter, iso = light.shutter_s, light.iso
        changes.append(
            ApertureChange(
                stop.label,
                stop.nominal,
                stops,
                zone.in_front_m,
                zone.behind_m,
                float(diffraction.airy_diameter_m(stop.nominal, m)),
                exposure.SHUTTER_TIMES.label_of(shutter * 2.0**stops) if shutter else None,
                exposure.SPEEDS.label_of(iso * 2.0**stops) if iso else None,
            )
        )
    return tuple(changes)


def _recomposing(o: _Optics, aim: framing.Aim) -> Recomposing:
    across = (o.set_up.framing.across - 0.5) * o.sides_m[0] / o.v
    angle = math.atan(math.hypot(math.tan(aim.eyes_off_axis_rad), across))
    reach = o.s / math.cos(angle)  # the eyes' range, when their depth is the focus distance
    shift = float(recompose.shift_m(reach, angle))
    depth = float(recompose.depth_after_m(reach, angle))
    room = lens.depth_of_field(o.f, o.n, reach, o.c).in_front_m
    return Recomposing(
        angle, shift, shift / room, float(lens.blur_diameter_m(o.f, o.n, reach, depth))
    )


def _walk(o: _Optics, aim: framing.Aim) -> Walk:
    speed, turn = motion.WALKING.speed_m_s, walking.TURN_S
    if o.figure.is_seated:
        speed, turn = walking.SEATED_SPEED_M_S, walking.SEATED_TURN_S
    needed = float(walking.time_to_mark_s(aim.upright_distance_m, speed, turn_s=turn))
    timers = walking.timer_choices(needed)
    enough = [timer.delay_s for timer in timers if timer.to_spare_s >= 0]
    return Walk(aim.upright_distance_m, speed, needed, timers, min(enough) if enough else None)


def _ground_marks(o: _Optics, aim: framing.Aim) -> tuple[GroundMark, ...]:
    eyes = o.figure.eyes_m
    behind_lens = o.v * math.cos(aim.tilt_rad)  # the sensor mark is that much further from them
    marks = []
    for at, z in (("near limit", o.zone.near_m), ("mark", o.s), ("far limit", o.zone.far_m)):
        x = float(framing.upright_distance_m(z, eyes, aim.camera_height_m, aim.tilt_rad))
        along = x + behind_lens
        marks.append(GroundMark(at, along, float(ground_marks.slant_m(along, aim.camera_height_m))))
    return tuple(marks)
