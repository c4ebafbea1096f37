"""How much of a person fills the picture, and where camera and person must be for it.

Shot sizes are the trade's; their lower edges are common practice, no source, put clear of joints.
Seated, "knees-up" has the knees in it: they are at the height of the lap, and an edge above them
would leave no more than the waist. The ground is level.

Heights start at the ground. A tilt is positive downwards. "Upright distance" is the horizontal
distance from the lens to the person's eyes; "axial" the depth along the tilted axis, which is what
focus depends on. A frame is measured in the upright plane through the eyes: what reaches out before
it, as the feet of who sits, is seen lower there than it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from optics import lens
from optics.checks import FloatArray, positive, scalar_back
from optics.errors import ImpossibleValueError
from optics.figure import (
    KNEES_BEFORE_EYES,
    SHOULDER_BREADTH,
    TOES_BEFORE_EYES,
    Edge,
    Figure,
)
from optics.sensor import Sensor

Orientation = Literal["landscape", "portrait"]

SHOULDER_ROOM = 1.15
"""Frame width over the breadth between the shoulder points: clothes and a little air. Common
practice, no source."""

HEAD_ROOM_ACROSS = 0.85
"""The same for head and shoulders, whose frame cuts the arms at the sides. Common practice, no
source."""

HEADROOM = 0.08
"""Share of the frame's height left above the head. Common practice, no source."""

MOST_TILT_RAD = math.radians(60)
"""Beyond this a tripod head looks at the ground or the sky, and no shot size means anything."""


@dataclass(frozen=True)
class ShotSize:
    """A shot size of the trade: its name and where the lower edge of the frame cuts the body.

    lower_edge: standing, as a fraction of stature above the ground.   cuts: what it cuts.
    across: width of the frame over the breadth between the shoulder points, at the least.
    """

    name: str
    lower_edge: float
    cuts: Literal["ground", "legs", "trunk"]
    across: float = SHOULDER_ROOM


SHOT_SIZES: tuple[ShotSize, ...] = (
    ShotSize("full body", -0.04, "ground"),  # some of it under feet or wheels
    ShotSize("knees-up", 0.32, "legs"),  # a hand above the knee (0.285)
    ShotSize("waist-up", 0.58, "trunk"),  # between hip (0.530) and elbow (0.630)
    ShotSize("chest-up", 0.70, "trunk"),
    ShotSize(
        "head and shoulders", 0.79, "trunk", HEAD_ROOM_ACROSS
    ),  # a little under the shoulder (0.818)
)
"""From loose to tight."""

_UNDER_KNEES = 0.10
"""Seated, the edge of knees-up under the joint of the knee, as a fraction of stature: mid-shin."""


def shot_size(name: str) -> ShotSize:
    """A shot size by name; hyphens and spaces are the same."""
    wanted = name.strip().lower().replace("-", " ").replace("_", " ")
    for size in SHOT_SIZES:
        if size.name.replace("-", " ") == wanted:
            return size
    known = ", ".join(size.name.replace(" ", "-") for size in SHOT_SIZES)
    raise ImpossibleValueError("{name!r} is not a shot size: use {known}", name=name, known=known)


@dataclass(frozen=True)
class Region:
    """What the frame must hold at the person: an upright rectangle, metres."""

    bottom_m: float
    top_m: float
    width_m: float

    @property
    def height_m(self) -> float:
        """Top less bottom, metres."""
        return self.top_m - self.bottom_m


def lower_edge(size: ShotSize, figure: Figure) -> Edge:
    """Where that shot size's frame ends below."""
    if size.cuts == "trunk":
        return Edge(figure.on_trunk_m(size.lower_edge), 0.0)
    if not figure.is_seated:
        return Edge(size.lower_edge * figure.stature_m, 0.0)
    if size.cuts == "ground":
        return Edge(size.lower_edge * figure.stature_m, TOES_BEFORE_EYES * figure.stature_m)
    return Edge(
        figure.knees_m - _UNDER_KNEES * figure.stature_m, KNEES_BEFORE_EYES * figure.stature_m
    )


_LEAST_TIMES_BEFORE = 1.5
"""A camera at a height of its own, nearer than so many times what reaches out, sees the feet from
above, and no upright frame is meant any more: the region is taken as from there."""


def region_of(
    size: ShotSize,
    figure: Figure,
    headroom: float = HEADROOM,
    distance_m: float = math.inf,
    camera_height_m: float | None = None,
) -> Region:
    """The rectangle of a shot size, with headroom above the head, as seen from that distance.

    camera_height_m: None for a level camera at the middle of the rectangle. Distance and height
    only matter for who sits: c the crown, y the edge, d before the eyes, a = 1 - headroom, a camera
    at height h sees the edge at h - (h - y) x / (x - d); with h in the middle, the height of the
    rectangle is (c - y) x / (a x - d / 2).
    """
    if not 0 <= headroom < 0.9:
        raise ImpossibleValueError(
            "headroom must be from 0 to 0.9 of the height, not {headroom:g}", headroom=headroom
        )
    x = float(positive("distance", distance_m, infinity=True))
    edge, share = lower_edge(size, figure), 1.0 - headroom
    bottom, d = edge.height_m, edge.before_eyes_m
    width = SHOULDER_BREADTH * size.across * figure.stature_m
    if d == 0 or math.isinf(x) or (camera_height_m is not None and camera_height_m <= bottom):
        height = (figure.crown_m - bottom) / share
    elif camera_height_m is None:
        x = max(x, d)
        height = (figure.crown_m - bottom) * x / (share * x - d / 2.0)
        bottom = figure.crown_m - share * height
    else:
        x = max(x, _LEAST_TIMES_BEFORE * d)
        bottom = camera_height_m - (camera_height_m - bottom) * x / (x - d)
        height = (figure.crown_m - bottom) / share
    return Region(bottom, bottom + height, width)


def frame_sides_m(sensor: Sensor, orientation: Orientation) -> tuple[float, float]:
    """Width and height of the sensor as the camera is held, metres."""
    short, long = sorted((sensor.width_m, sensor.height_m))
    return (long, short) if orientation == "landscape" else (short, long)


def frame_height_for(region: Region, sensor: Sensor, orientation: Orientation) -> float:
    """Height at the person of the smallest frame that holds the region, metres.

    Held upright, a tight frame is set by the shoulders' breadth rather than by its height.
    """
    width, height = frame_sides_m(sensor, orientation)
    return max(region.height_m, region.width_m * height / width)


def region_filled(region: Region, height_m: float, crown_m: float, ground_m: float) -> Region:
    """The region made as high as the frame is at the person, keeping its share of headroom.

    What the frame holds more or less goes below, down to ground_m, the lower edge of the whole
    figure; beyond that to both ends.
    """
    share = max(0.0, (region.top_m - crown_m) / region.height_m)
    top = crown_m + share * height_m
    top += max(0.0, ground_m - (top - height_m)) / 2
    return Region(top - height_m, top, region.width_m)


def field_covered_m(side_m: ArrayLike, image_distance_m: ArrayLike, distance_m: ArrayLike) -> Any:
    """Length at axial depth z that a sensor side covers: side z / v (similar triangles)."""
    side = positive("sensor side", side_m)
    v = positive("image distance", image_distance_m)
    z = positive("distance", distance_m, infinity=True)
    return scalar_back(side * z / v)


def angle_of_view_rad(side_m: ArrayLike, image_distance_m: ArrayLike) -> Any:
    """Angle that a sensor side covers: 2 atan(side / 2 v); v is f only when focused at infinity."""
    side = positive("sensor side", side_m)
    v = positive("image distance", image_distance_m)
    return scalar_back(2.0 * np.arctan(side / (2.0 * v)))


def upright_distance_to_fit_m(
    bottom_m: ArrayLike, top_m: ArrayLike, camera_height_m: ArrayLike, angle_rad: ArrayLike
) -> Any:
    """Horizontal distance at which an angle of view just spans from bottom to top, tilted to suit.

    The rays to both edges differ by the angle: atan(a / x) + atan(b / x) = angle with a = top -
    camera height, b = camera height - bottom, so x = (p + sqrt(p^2 + 4 a b t^2)) / (2 t) with
    p = a + b, t = tan(angle). Level, where a = b, it is the plain a / tan(angle / 2).
    """
    angle = positive("angle of view", angle_rad)
    bottom, top = np.asarray(bottom_m, np.float64), np.asarray(top_m, np.float64)
    height = np.asarray(camera_height_m, np.float64)
    if np.any(angle >= np.pi / 2):
        raise ImpossibleValueError("angle of view must be under 90 degrees for a tilted frame")
    a, b, t = top - height, height - bottom, np.tan(angle)
    p = a + b
    inside = p * p + 4.0 * a * b * t * t
    if np.any(inside < 0):
        raise ImpossibleValueError(
            "the camera stands so far above or below that it sees more than the frame from anywhere"
        )
    return scalar_back((p + np.sqrt(inside)) / (2.0 * t))


def tilt_to_centre_rad(
    bottom_m: ArrayLike, top_m: ArrayLike, camera_height_m: ArrayLike, upright_distance_m: ArrayLike
) -> Any:
    """Downward tilt that puts the edges equally far from the axis: half the sum of their angles."""
    x = positive("distance", upright_distance_m)
    height = np.asarray(camera_height_m, np.float64)
    down = np.arctan((height - np.asarray(bottom_m, np.float64)) / x)
    up = np.arctan((np.asarray(top_m, np.float64) - height) / x)
    return scalar_back((down - up) / 2.0)


def axial_distance_m(
    upright_distance_m: ArrayLike,
    height_m: ArrayLike,
    camera_height_m: ArrayLike,
    tilt_rad: ArrayLike,
) -> Any:
    """Depth along the axis of a point at that horizontal distance and height.

    z = x cos(tilt) + (camera height - height) sin(tilt).
    """
    x, tilt = np.asarray(upright_distance_m, np.float64), np.asarray(tilt_rad, np.float64)
    drop = np.asarray(camera_height_m, np.float64) - np.asarray(height_m, np.float64)
    return scalar_back(x * np.cos(tilt) + drop * np.sin(tilt))


def upright_distance_m(
    axial_distance: ArrayLike, height_m: ArrayLike, camera_height_m: ArrayLike, tilt_rad: ArrayLike
) -> Any:
    """Horizontal distance of a point of known height and depth; inverts `axial_distance_m`."""
    z, tilt = np.asarray(axial_distance, np.float64), np.asarray(tilt_rad, np.float64)
    drop = np.asarray(camera_height_m, np.float64) - np.asarray(height_m, np.float64)
    return scalar_back((z - drop * np.sin(tilt)) / np.cos(tilt))


def edges_m(
    camera_height_m: float, tilt_rad: float, angle_rad: float, upright_distance: float
) -> tuple[float, float]:
    """Heights of the frame's lower and upper edge at the person (under the ground if negative)."""
    half = angle_rad / 2.0
    bottom = camera_height_m - upright_distance * math.tan(half + tilt_rad)
    top = camera_height_m + upright_distance * math.tan(half - tilt_rad)
    return bottom, top


@dataclass(frozen=True)
class Aim:
    """Where a camera at a given focus distance looks, and what of the person it holds.

    upright_distance_m: from the lens to the person.   tilt_rad: positive downwards.
    bottom_m, top_m: heights of the frame's edges at the person.
    eyes_from_top: place of the eyes in the frame, 0 at the upper edge, 1 at the lower one.
    eyes_off_axis_rad: angle between the optical axis and the ray to the eyes.
    """

    camera_height_m: float
    upright_distance_m: float
    tilt_rad: float
    bottom_m: float
    top_m: float
    eyes_from_top: float
    eyes_off_axis_rad: float


def aim(
    camera_height_m: float,
    tilt_rad: float,
    angle_rad: float,
    eyes_m: float,
    eyes_axial_distance_m: float,
) -> Aim:
    """What a camera so placed holds of a person whose eyes are at that height and axial depth.

    angle_rad: angle of view up and down. Raises ImpossibleValueError when the frame's edges pass
    the vertical or the person would stand behind the lens.
    """
    positive("distance", eyes_axial_distance_m)
    positive("height of the eyes", eyes_m)
    x = float(upright_distance_m(eyes_axial_distance_m, eyes_m, camera_height_m, tilt_rad))
    if x <= 0 or abs(tilt_rad) > MOST_TILT_RAD or abs(tilt_rad) + angle_rad / 2 >= math.pi / 2:
        raise ImpossibleValueError(
            "camera height {height_m:g} m with a tilt of {tilt_deg:.3g} degrees cannot frame a "
            "person from {distance_m:.3g} m",
            height_m=camera_height_m,
            tilt_deg=math.degrees(tilt_rad),
            distance_m=eyes_axial_distance_m,
        )
    bottom, top = edges_m(camera_height_m, tilt_rad, angle_rad, x)
    off_axis = math.atan((camera_height_m - eyes_m) / x) - tilt_rad  # positive below the axis
    from_top = 0.5 + math.tan(off_axis) / (2.0 * math.tan(angle_rad / 2.0))
    return Aim(camera_height_m, x, tilt_rad, bottom, top, from_top, abs(off_axis))


# -- where a shot size fits ---------------------------------------------------------------------

_MOST_STEPS = 300
_ROUNDING = 1e-9
_WHOLE_STEPS = 30  # as a rule enough; near by, with a wide lens, they swing, and are halved
_SETTLED = 1e-12

LOWEST_CAMERA_M = 0.1
"""A camera that tilts upwards is put no lower than this. Common practice, no source."""


@dataclass(frozen=True)
class Wanted:
    """A shot size of a person, and how the camera is held for it.

    camera_height_m, tilt_rad: as far as they are settled. With neither, the camera is level at the
    middle of the frame; with one, the other is such that the frame sits as it should.
    """

    size: ShotSize
    figure: Figure
    sensor: Sensor
    orientation: Orientation
    headroom: float = HEADROOM
    camera_height_m: float | None = None
    tilt_rad: float | None = None

    @property
    def side_m(self) -> float:
        """Height of the sensor as it is held, metres."""
        return frame_sides_m(self.sensor, self.orientation)[1]

    def region(self, size: ShotSize, distance_m: float) -> Region:
        """The rectangle of a shot size, seen from that distance."""
        return region_of(size, self.figure, self.headroom, distance_m, self.camera_height_m)

    def filled(self, height_m: float, distance_m: float) -> Region:
        """Where a frame of that height sits, seen from that distance."""
        return region_filled(
            self.region(self.size, distance_m),
            height_m,
            self.figure.crown_m,
            self.region(SHOT_SIZES[0], distance_m).bottom_m,
        )


def focus_distance_to_fit_m(wanted: Wanted, focal_length_m: ArrayLike) -> Any:
    """Nearest focus distance from the lens at which the frame holds the shot size.

    Infinite where no distance does, for the camera's height or tilt.
    """
    f = positive("focal length", focal_length_m)
    level = _level_focus_distance_m(wanted, f)
    if wanted.camera_height_m is None and not wanted.tilt_rad:
        return scalar_back(level)
    found = [
        _held_focus_distance_m(wanted, one, start)
        for one, start in zip(f.ravel().tolist(), level.ravel().tolist(), strict=True)
    ]
    return scalar_back(np.reshape(found, f.shape))


def _level_focus_distance_m(wanted: Wanted, f: FloatArray) -> FloatArray:
    """The frame's height side (s - f) / f is what the region needs: (c - y) s / (a s - d / 2)."""
    side, share = wanted.side_m, 1.0 - wanted.headroom
    edge = lower_edge(wanted.size, wanted.figure)
    body, d = wanted.figure.crown_m - edge.height_m, edge.before_eyes_m
    across = frame_height_for(
        Region(0.0, 0.0, wanted.region(wanted.size, math.inf).width_m),
        wanted.sensor,
        wanted.orientation,
    )
    p = side * (d / 2.0 + share * f) + body * f
    upright = (p + np.sqrt(p * p - 2.0 * side * side * share * f * d)) / (2.0 * side * share)
    return np.asarray(np.maximum(np.maximum(upright, d), f * (1.0 + across / side)))


def _held_focus_distance_m(wanted: Wanted, f: float, start_m: float) -> float:
    """The same for a camera at a height or with a tilt of its own; infinite if never.

    By repetition: each step shrinks the error by about f / s, and by what the feet reach out.
    """
    held, s, x = wanted, start_m, start_m
    try:
        for step in range(_MOST_STEPS):
            before, share = s, _share_of(step)
            region = held.region(wanted.size, x)
            needed = frame_height_for(region, wanted.sensor, wanted.orientation)
            angle = float(angle_of_view_rad(wanted.side_m, lens.image_distance_m(f, s)))
            there, height, tilt = _where_it_fits(wanted, held.filled(needed, x), region, angle)
            if math.isinf(there):
                return math.inf
            held = replace(wanted, camera_height_m=height)
            x += share * (there - x)
            s += share * (float(axial_distance_m(x, wanted.figure.eyes_m, height, tilt)) - s)
            if abs(s - before) < _SETTLED * s:
                break
        aim(height, tilt, angle, wanted.figure.eyes_m, s)
    except ImpossibleValueError:
        return math.inf
    return s


def _share_of(step: int) -> float:
    """What share of a step of a repetition is made."""
    return 1.0 if step < _WHOLE_STEPS else 0.5


def _where_it_fits(
    wanted: Wanted, framed: Region, region: Region, angle_rad: float
) -> tuple[float, float, float]:
    """Upright distance at which an angle of view holds the frame, camera height and tilt there."""
    height, tilt = wanted.camera_height_m, wanted.tilt_rad
    bottom, top = framed.bottom_m, framed.top_m
    if tilt is None and height is not None:
        x = float(upright_distance_to_fit_m(bottom, top, height, angle_rad))
        return x, height, float(tilt_to_centre_rad(bottom, top, height, x))
    tilt = tilt or 0.0
    down, up = _slopes(tilt, angle_rad)
    x = framed.height_m / (up + down)
    if height is None:
        height = max(top - x * up, LOWEST_CAMERA_M)
    above = up - wanted.headroom * (up + down)  # how fast the frame rises, less its headroom
    head = _reach(wanted.figure.crown_m - height, above)
    foot = _reach(height - region.bottom_m, down)
    x = max(x, head[0], foot[0])
    if x > min(head[1], foot[1]) * (1 + _ROUNDING):
        x = math.inf
    return x, height, tilt


def _reach(length_m: float, slope: float) -> tuple[float, float]:
    """Between which distances an edge of the frame is that far from the camera's height or more.

    An edge that comes nearer with distance, as the upper one of a steep tilt, is so up to the
    second.
    """
    if slope > 0:
        return max(0.0, length_m / slope), math.inf
    if slope == 0:
        return (0.0 if length_m <= 0 else math.inf), math.inf
    return 0.0, length_m / slope


def _slopes(tilt_rad: float, angle_rad: float) -> tuple[float, float]:
    """How fast the frame's lower edge goes down with distance, and its upper one up."""
    half = angle_rad / 2.0
    if abs(tilt_rad) + half >= math.pi / 2:
        raise ImpossibleValueError(
            "a tilt of {tilt_deg:.3g} degrees turns the frame past the vertical",
            tilt_deg=math.degrees(tilt_rad),
        )
    return math.tan(half + tilt_rad), math.tan(half - tilt_rad)


def aim_for(wanted: Wanted, angle_rad: float, eyes_axial_distance_m: float) -> Aim:
    """Where the camera so held stands and looks, focused on the eyes at that axial depth.

    What neither height nor tilt settle puts the frame where the shot size has it, with more of the
    place below where the frame is larger. Found by repetition, as above. Raises
    ImpossibleValueError where no frame is possible so.
    """
    eyes_m, s = wanted.figure.eyes_m, float(positive("distance", eyes_axial_distance_m))
    held, x = wanted, s
    tilt, height = wanted.tilt_rad or 0.0, wanted.camera_height_m
    for step in range(_MOST_STEPS):
        before, share = (x, tilt), _share_of(step)
        down, up = _slopes(tilt, angle_rad)
        framed = held.filled(x * (up + down), x)
        if wanted.camera_height_m is None:
            height = max(framed.top_m - x * up, LOWEST_CAMERA_M)
            held = replace(wanted, camera_height_m=height if wanted.tilt_rad else None)
        elif wanted.tilt_rad is None:
            centred = tilt_to_centre_rad(framed.bottom_m, framed.top_m, wanted.camera_height_m, x)
            tilt += share * (float(centred) - tilt)
            if abs(tilt) > MOST_TILT_RAD:
                break
        there = float(upright_distance_m(s, eyes_m, height or 0.0, tilt))
        x += share * (max(there, x / 4.0) - x)  # a swing does not go behind the lens
        if max(abs(x - before[0]), abs(tilt - before[1])) < _SETTLED * s:
            break
    return aim(height or 0.0, tilt, angle_rad, eyes_m, s)
