"""How a plan is worked out from a set-up."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.guidance.narrow_zone import narrow_zone
from assist.plan.plan import (
    ROUNDING,
    ApertureChange,
    BlurAt,
    Diffraction,
    ExposurePair,
    FieldCovered,
    GroundMark,
    MotionLimit,
    Plan,
    PlannedExposure,
    PlannedFraming,
    PlannedPerson,
    Recomposing,
    ShotFit,
    Walk,
)
from assist.setup.body import Person
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp
from optics import diffraction, exposure, framing, ground_marks, lens, motion, recompose, walking
from optics.blur_seen import blur_seen
from optics.figure import Figure
from optics.focus_zone import FocusZone


@dataclass(frozen=True)
class _Optics:
    """Numbers that every part needs, distances from the lens."""

    set_up: SetUp
    f: float
    n: float
    s: float
    v: float
    c: float
    zone: FocusZone

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
            set_up.focus_zone,
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


def plan_of(set_up: SetUp, focus_set_by: str | None = None, zoom_set_by: str | None = None) -> Plan:
    """Compute the plan; ImpossibleValueError when the set-up's numbers exclude each other."""
    o = _Optics.of(set_up)
    limits = _motion_limits(o)
    framed = _framing(o)
    return Plan(
        set_up,
        focus_set_by,
        o.zone,
        _hyperfocal_m(o),
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
        narrow_zone(set_up, Person(set_up.person.stature_m), FeedGeometry.of(set_up)),
        zoom_set_by,
    )


def _hyperfocal_m(o: _Optics) -> float:
    return float(lens.lens_to_sensor_distance_m(o.f, float(lens.hyperfocal_m(o.f, o.n, o.c))))


def _fields(o: _Optics) -> tuple[FieldCovered, ...]:
    width, height = o.sides_m
    places = (("near limit", o.zone.near_m), ("mark", o.s), ("far limit", o.zone.far_m))
    return tuple(
        FieldCovered(
            at,
            o.zone.from_sensor_m(z),
            float(framing.field_covered_m(width, o.v, z)),
            float(framing.field_covered_m(height, o.v, z)),
        )
        for at, z in places
    )


def _person(o: _Optics) -> PlannedPerson:
    stated, figure = o.set_up.person, o.figure
    return PlannedPerson(
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


def _framing(o: _Optics) -> PlannedFraming:
    wanted = o.set_up.framing
    fits_from = {
        size.name: float(framing.focus_distance_to_fit_m(wanted_of(o.set_up, size), o.f))
        for size in framing.SHOT_SIZES
    }
    sizes = tuple(
        ShotFit(
            name,
            nearest <= o.s * (1 + ROUNDING),
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
    return PlannedFraming(
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
        places.append(("background", o.zone.from_lens_m(background)))
    places.append(("infinity", math.inf))
    return tuple(
        BlurAt(at, o.zone.from_sensor_m(z), blur_seen(o.f, o.n, o.s, z, o.sides_m[0], o.width_px))
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
                exposure.SHUTTER_TIMES.nearest(movement.usual_s).label
                if movement.usual_s < longest
                else None,
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


def _exposure(o: _Optics, limits: tuple[MotionLimit, ...]) -> PlannedExposure:
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
    return PlannedExposure(
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
