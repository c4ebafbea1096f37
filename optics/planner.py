"""Which lens, distance and aperture do what is wanted, and what to give up when none does.

For one lens at one aperture every wish is a bound on the focus distance s. Framing, room, light and
the lens's nearest focus want the camera at least so far away (the last two because a smaller figure
moves less on the sensor); the place and the loosest framing that is still welcome allow it at most
so far. The wishes can be met exactly when the largest "at least" is within the smallest "at most",
so distance is searched as a continuum, in closed form; lenses and the dial's third-stops of
aperture are searched one by one, as rows and columns of an array.

Distances are from the lens; the ground is level. With a tilted camera room
along the ground is a little more than room along the axis, so the answers lie on the safe side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optics import diffraction, exposure, framing, lens, motion, room
from optics.checks import FloatArray, positive
from optics.errors import ImpossibleValueError
from optics.exposure import Setting
from optics.figure import Figure
from optics.sensor import Sensor

Bound = Literal[
    "framing", "room", "light", "nearest focus", "place", "loosest framing", "brightness"
]

AT_LEAST: tuple[Bound, ...] = ("framing", "room", "light", "nearest focus")
AT_MOST: tuple[Bound, ...] = ("place", "loosest framing")

ROOM_WORTH_HAVING = 1.0
"""Spare room, as a share of the room asked for, beyond which more is not counted in the ranking."""


@dataclass(frozen=True)
class LensChoice:
    """A lens at one focal length. minimum_focus_m: from the sensor plane, None if not known."""

    name: str
    focal_length_m: float
    widest_f_number: float = 1.4
    narrowest_f_number: float = 22.0
    minimum_focus_m: float | None = None

    def __post_init__(self) -> None:
        positive("focal length", self.focal_length_m)
        positive("widest aperture", self.widest_f_number)
        if self.narrowest_f_number < self.widest_f_number:
            raise ImpossibleValueError(
                "lens {lens}: narrowest aperture f/{narrowest:g} is wider than its widest "
                "f/{widest:g}",
                lens=self.name,
                narrowest=self.narrowest_f_number,
                widest=self.widest_f_number,
            )


@dataclass(frozen=True)
class Room:
    """Room wanted before and behind the person, or depth in all wherever the focus lies in it."""

    in_front_m: float = 0.0
    behind_m: float = 0.0
    in_all_m: float = 0.0

    def __post_init__(self) -> None:
        given = (self.in_front_m, self.behind_m, self.in_all_m)
        if min(given) < 0:
            raise ImpossibleValueError(
                "room must not be negative, not {room_m:g} m", room_m=min(given)
            )
        if max(given) == 0:
            raise ImpossibleValueError("room before, behind or in all must be above zero")

    def scaled(self, share: float) -> Room:
        """The same wish in other sizes."""
        return Room(self.in_front_m * share, self.behind_m * share, self.in_all_m * share)


@dataclass(frozen=True)
class Light:
    """Light, and how high the ISO speed may go and how low it goes."""

    ev100: float
    highest_iso: float = 6400.0
    lowest_iso: float = 100.0

    def __post_init__(self) -> None:
        if self.highest.thirds < self.lowest.thirds:
            raise ImpossibleValueError(
                "highest ISO speed must not be below the lowest ({lowest:g}), not {highest:g}",
                lowest=self.lowest_iso,
                highest=self.highest_iso,
            )

    @property
    def highest(self) -> Setting:
        """The dial's setting at or under the highest speed."""
        return exposure.SPEEDS.at_most(self.highest_iso)

    @property
    def lowest(self) -> Setting:
        """The dial's setting nearest to the lowest speed."""
        return exposure.SPEEDS.nearest(self.lowest_iso)


@dataclass(frozen=True)
class Wishes:
    """Everything wanted, and the place.

    loosest: how many times the frame may be as high as where the shot size just fits.
    speed_m_s: of the subject's movement, to be held within the circle of confusion.
    farthest_m: greatest distance from the sensor plane to the person, infinite if it is no matter.
    """

    sensor: Sensor
    orientation: framing.Orientation
    circle_of_confusion_m: float
    shot_size: framing.ShotSize
    figure: Figure
    room: Room
    speed_m_s: float
    farthest_m: float = float("inf")
    light: Light | None = None
    headroom: float = framing.HEADROOM
    loosest: float = 1.25
    camera_height_m: float | None = None
    tilt_rad: float | None = None

    def __post_init__(self) -> None:
        positive("circle of confusion", self.circle_of_confusion_m)
        positive("speed", self.speed_m_s)
        positive("farthest distance", self.farthest_m, infinity=True)
        if self.loosest < 1:
            raise ImpossibleValueError(
                "loosest framing must be 1 or more, not {loosest:g}", loosest=self.loosest
            )

    @property
    def framed(self) -> framing.Wanted:
        """The shot size, and how the camera is held for it."""
        return framing.Wanted(
            self.shot_size,
            self.figure,
            self.sensor,
            self.orientation,
            self.headroom,
            self.camera_height_m,
            self.tilt_rad,
        )


@dataclass(frozen=True)
class Cost:
    """Why one answer ranks before another: everything in stops, less is better.

    noise: ISO speed above its lowest (without known light, the aperture's own loss).
    softness: aperture narrower than where diffraction fills the criterion.
    cropping: picture area outside the shot size, as light not used.
    spare_room: credit for room beyond what was asked, a stop at most.
    """

    noise: float
    softness: float
    cropping: float
    spare_room: float

    @property
    def total(self) -> float:
        """Sum, less the credit."""
        return self.noise + self.softness + self.cropping - self.spare_room


@dataclass(frozen=True)
class Candidate:
    """One way to do all that is wanted.

    set_by: the wish that keeps the camera from coming nearer. wider_fails: the wish that the next
    wider third of a stop cannot meet; None when there is none wider or it would do too.
    shutter, speed: None without known light.
    """

    lens: LensChoice
    aperture: Setting
    focus_distance_m: float
    in_front_m: float
    behind_m: float
    looser_by: float
    shutter: Setting | None
    speed: Setting | None
    set_by: Bound
    wider_fails: Bound | None
    cost: Cost


@dataclass(frozen=True)
class NearMiss:
    """The lens and aperture that come nearest, and the two wishes that exclude each other there.

    The first wants at least `at_least_m`, the other allows at most `at_most_m`, from the lens.
    """

    lens: LensChoice
    aperture: Setting
    wants: Bound
    at_least_m: float
    allows: Bound
    at_most_m: float


Relaxed = Literal[
    "farthest distance", "looser framing", "tighter framing", "less room", "higher ISO",
    "more light", "slower movement", "another lens",
]  # fmt: skip


@dataclass(frozen=True)
class Relaxation:
    """The smallest change of one wish that makes the others possible, and with what.

    beside: another wish that must be given up altogether as well; None when this one is enough.

    value: farthest distance in metres from the sensor plane; framing as a multiple of the frame
    height; room as a share of what was asked; ISO speed; exposure value; movement in m/s; focal
    length in metres.
    """

    what: Relaxed
    value: float
    lens: LensChoice
    aperture: Setting
    focus_distance_m: float
    beside: Bound | None = None


@dataclass(frozen=True)
class Answer:
    """Candidates best first; when there are none, the nearest miss and what would help."""

    candidates: tuple[Candidate, ...]
    near_miss: NearMiss | None
    relaxations: tuple[Relaxation, ...]


# -- bounds, one row a lens, one column an aperture ---------------------------------------------


@dataclass(frozen=True)
class _Grid:
    """Bounds on s for every lens and aperture; impossible cells have open False."""

    lenses: tuple[LensChoice, ...]
    f: FloatArray  # (lenses, 1)
    at_least: dict[Bound, FloatArray]
    at_most: dict[Bound, FloatArray]
    open: NDArray[np.bool_]

    def lowest(self, without: Sequence[Bound] = ()) -> FloatArray:
        """The largest "at least", of all bounds but some."""
        kept = [self.at_least[name] for name in AT_LEAST if name not in without]
        return np.asarray(np.maximum.reduce(kept))

    def highest(self, without: Sequence[Bound] = ()) -> FloatArray:
        """The smallest "at most", of all bounds but some; infinite without any."""
        kept = [self.at_most[name] for name in AT_MOST if name not in without]
        return np.asarray(np.minimum.reduce([*kept, np.full(self.open.shape, np.inf)]))


_APERTURES = tuple(exposure.APERTURES)
_N = np.array([x.nominal for x in _APERTURES])  # the f-number as people read and type it
_AV_THIRDS = np.array([x.thirds for x in _APERTURES])


def _distance_for_room(wishes: Wishes, f: FloatArray) -> FloatArray:
    c = wishes.circle_of_confusion_m
    wanted = wishes.room
    distances = [np.zeros(np.broadcast(f, _N).shape)]
    if wanted.in_front_m > 0:
        distances.append(room.focus_distance_for_room_in_front_m(f, _N, wanted.in_front_m, c))
    if wanted.behind_m > 0:
        distances.append(room.focus_distance_for_room_behind_m(f, _N, wanted.behind_m, c))
    if wanted.in_all_m > 0:
        distances.append(room.focus_distance_for_room_in_all_m(f, _N, wanted.in_all_m, c))
    return np.asarray(np.maximum.reduce(distances))


def _time_thirds_at(light: Light, speed: Setting) -> NDArray[np.int_]:
    """Thirds of a stop of the shutter time that exposes rightly at that speed, by aperture."""
    return np.asarray(exposure.thirds_of_stops(light.ev100) + speed.thirds - _AV_THIRDS)


def _distance_for_light(wishes: Wishes, f: FloatArray) -> FloatArray:
    """Where the slowest shutter time that the light forces still freezes the movement.

    speed t f / (s - f) <= c, so s >= f + speed t f / c.
    """
    if wishes.light is None:
        return np.zeros(np.broadcast(f, _N).shape)
    thirds = _time_thirds_at(wishes.light, wishes.light.highest)
    time = np.exp2(-thirds / 3.0)
    streak = wishes.speed_m_s * time / wishes.circle_of_confusion_m
    too_dark = thirds < exposure.SHUTTER_TIMES.first.thirds
    return np.where(too_dark, np.inf, f * (1.0 + streak))


def _grid(wishes: Wishes, lenses: Sequence[LensChoice]) -> _Grid:
    f = np.array([[x.focal_length_m] for x in lenses])
    widest = np.array([[x.widest_f_number] for x in lenses])
    narrowest = np.array([[x.narrowest_f_number] for x in lenses])
    shape = np.broadcast(f, _N).shape
    nearest = np.array(
        [
            [
                0.0
                if x.minimum_focus_m is None
                else lens.sensor_to_lens_distance_m(
                    x.focal_length_m, max(x.minimum_focus_m, 4 * x.focal_length_m)
                )
            ]
            for x in lenses
        ]
    )
    fits = np.asarray(framing.focus_distance_to_fit_m(wishes.framed, f))
    reaches = 4.0 * f < wishes.farthest_m  # nearer than that no lens can be focused
    place = np.where(
        reaches,
        lens.sensor_to_lens_distance_m(f, np.where(reaches, wishes.farthest_m, 4.0 * f)),
        0.0,
    )
    # A lens says f/1.75 or f/3.4 where the dial says 1.8 or 3.5: 3 % is no difference.
    open_cells = np.greater_equal(_N, widest * 0.97) & np.less_equal(_N, narrowest * 1.03)
    open_cells = open_cells & np.isfinite(fits)
    if wishes.light is not None:
        fastest = exposure.SHUTTER_TIMES.last.thirds
        open_cells = open_cells & (_time_thirds_at(wishes.light, wishes.light.lowest) <= fastest)
    return _Grid(
        tuple(lenses),
        f,
        {
            "framing": np.broadcast_to(fits, shape),
            "room": _distance_for_room(wishes, f),
            "light": _distance_for_light(wishes, f),
            "nearest focus": np.broadcast_to(nearest, shape),
        },
        {
            "place": np.broadcast_to(place, shape),
            "loosest framing": np.broadcast_to(f + (fits - f) * wishes.loosest, shape),
        },
        np.broadcast_to(open_cells, shape),
    )


# -- answers ------------------------------------------------------------------------------------


def search(wishes: Wishes, lenses: Sequence[LensChoice], round_up_to_m: float = 0.05) -> Answer:
    """Every lens and aperture that does what is wanted, best first, or what keeps all from it.

    round_up_to_m: a distance is rounded up to a whole number of these, from the sensor plane, where
    that is still allowed; nobody tapes to the millimetre.
    """
    if not lenses:
        raise ImpossibleValueError("at least one lens is needed")
    positive("rounding step", round_up_to_m)
    grid = _grid(wishes, lenses)
    found = _candidates(wishes, grid, round_up_to_m)
    if found:
        return Answer(tuple(sorted(found, key=lambda x: x.cost.total)), None, ())
    helping = _relaxations(wishes, grid) or _relaxations_of_two(wishes, lenses)
    return Answer((), _near_miss(grid), tuple(helping))


def _candidates(wishes: Wishes, grid: _Grid, step_m: float) -> list[Candidate]:
    low, high = grid.lowest(), grid.highest()
    possible = grid.open & (low <= high)
    rows, columns = np.nonzero(possible)
    if rows.size == 0:
        return []
    f, n = grid.f[rows, 0], _N[columns]
    taped = np.ceil(lens.lens_to_sensor_distance_m(f, low[rows, columns]) / step_m - 1e-9) * step_m
    rounded = np.asarray(lens.sensor_to_lens_distance_m(f, taped))
    s = np.where(rounded <= high[rows, columns], rounded, low[rows, columns])
    zone = lens.depth_of_field(f, n, s, wishes.circle_of_confusion_m)
    fits = grid.at_least["framing"][rows, columns]
    looser_by = (s - f) / (fits - f) - 1.0
    softens = diffraction.f_number_for_airy_diameter(
        wishes.circle_of_confusion_m, lens.magnification(f, s)
    )
    softness = np.maximum(0.0, 2.0 * np.log2(n / softens))
    spare = _spare_room(wishes.room, zone.in_front_m, zone.behind_m)
    found = []
    for k, (row, column) in enumerate(zip(rows, columns, strict=True)):
        settings = _settings(wishes, float(f[k]), float(s[k]), int(column))
        aperture = _APERTURES[column]
        noise = aperture.thirds / 3.0
        if wishes.light is not None and settings is not None:
            noise = (settings[1].thirds - wishes.light.lowest.thirds) / 3.0
        found.append(
            Candidate(
                grid.lenses[row],
                aperture,
                float(s[k]),
                float(zone.in_front_m[k]),
                float(zone.behind_m[k]),
                float(looser_by[k]),
                settings[0] if settings else None,
                settings[1] if settings else None,
                _tightest(grid, int(row), int(column)),
                _why_not_wider(grid, possible, int(row), int(column)),
                Cost(
                    noise,
                    float(softness[k]),
                    2.0 * float(np.log2(1.0 + max(0.0, looser_by[k]))),
                    float(spare[k]),
                ),
            )
        )
    return found


def _spare_room(wanted: Room, in_front: FloatArray, behind: FloatArray) -> FloatArray:
    """Room beyond what was asked, as a share of it: the scantier of both sides, at most 1."""
    shares = [np.full(np.shape(in_front), ROOM_WORTH_HAVING)]
    if wanted.in_front_m > 0:
        shares.append(in_front / wanted.in_front_m - 1.0)
    if wanted.behind_m > 0:
        shares.append(behind / wanted.behind_m - 1.0)
    if wanted.in_all_m > 0:
        shares.append((in_front + behind) / wanted.in_all_m - 1.0)
    return np.asarray(np.maximum(np.minimum.reduce(shares), 0.0))


def _settings(wishes: Wishes, f: float, s: float, column: int) -> tuple[Setting, Setting] | None:
    """The slowest shutter time that freezes the movement and its speed, none without light."""
    if wishes.light is None:
        return None
    longest = wishes.circle_of_confusion_m * (s - f) / (wishes.speed_m_s * f)
    slowest = int(np.ceil(-3.0 * np.log2(longest) - 1e-9))
    at_lowest = int(_time_thirds_at(wishes.light, wishes.light.lowest)[column])
    time = max(slowest, at_lowest, exposure.SHUTTER_TIMES.first.thirds)
    speed = wishes.light.lowest.thirds + time - at_lowest
    return exposure.SHUTTER_TIMES.at(time), exposure.SPEEDS.at(speed)


def _tightest(grid: _Grid, row: int, column: int) -> Bound:
    return max(AT_LEAST, key=lambda name: float(grid.at_least[name][row, column]))


def _why_not_wider(grid: _Grid, possible: NDArray[np.bool_], row: int, column: int) -> Bound | None:
    """The wish that fails one third of a stop wider."""
    if column == 0 or possible[row, column - 1]:
        return None
    if not grid.open[row, column - 1]:
        return None if _N[column - 1] < grid.lenses[row].widest_f_number * 0.97 else "brightness"
    return _tightest(grid, row, column - 1)


def _near_miss(grid: _Grid) -> NearMiss | None:
    """The cell whose two excluding bounds are nearest to each other, as a ratio of distances."""
    low, high = grid.lowest(), grid.highest()
    with np.errstate(divide="ignore", invalid="ignore"):
        miss = np.where(grid.open & np.isfinite(low) & (high > 0), low / high, np.inf)
    if not np.isfinite(miss).any():
        return None
    row, column = (int(x) for x in np.unravel_index(np.argmin(miss), miss.shape))
    allows = min(AT_MOST, key=lambda name: float(grid.at_most[name][row, column]))
    return NearMiss(
        grid.lenses[row],
        _APERTURES[column],
        _tightest(grid, int(row), int(column)),
        float(low[row, column]),
        allows,
        float(high[row, column]),
    )


def _best_cell(
    possible: NDArray[np.bool_], value: FloatArray, *, least: bool
) -> tuple[int, int] | None:
    """The possible cell with the least (or greatest) value."""
    usable = possible & np.isfinite(value)
    if not usable.any():
        return None
    ordered = np.where(usable, value if least else -value, np.inf)
    row, column = np.unravel_index(np.argmin(ordered), ordered.shape)
    return int(row), int(column)


_WORTH_SAYING: dict[Relaxed, tuple[float, float]] = {
    "looser framing": (1.0, 3.0),
    "tighter framing": (0.1, 1.0),
    "less room": (0.2, 1.0),
    "slower movement": (motion.STANDING.speed_m_s, np.inf),
}
"""Changes beyond these are no advice: nobody stands stiller than standing still."""


@np.errstate(invalid="ignore")  # a frame that never fits is infinitely far: no ratio, no advice
def _relaxations(wishes: Wishes, grid: _Grid) -> list[Relaxation]:
    """The smallest change of each wish, all others kept."""
    found: list[Relaxation] = []

    def add(
        what: Relaxed,
        value: FloatArray,
        distance: FloatArray,
        possible: NDArray[np.bool_],
        *,
        least: bool,
    ) -> None:
        least_worth, most_worth = _WORTH_SAYING.get(what, (-np.inf, np.inf))
        worth = (least_worth <= value) & (value <= most_worth)
        cell = _best_cell(grid.open & possible & worth, value, least=least)
        if cell is not None:
            found.append(
                Relaxation(
                    what,
                    float(value[cell]),
                    grid.lenses[cell[0]],
                    _APERTURES[cell[1]],
                    float(distance[cell]),
                )
            )

    f = grid.f
    low, high = grid.lowest(), grid.highest()
    fits = grid.at_least["framing"]

    finite_low = np.where(np.isfinite(low), low, 2.0 * f)
    add(
        "farthest distance",
        np.where(np.isfinite(low), lens.lens_to_sensor_distance_m(f, finite_low), np.inf),
        low,
        low <= grid.highest(without=["place"]),
        least=True,
    )
    add(
        "looser framing",
        (low - f) / (fits - f),
        low,
        low <= grid.highest(without=["loosest framing"]),
        least=True,
    )
    # Tighter: come as near as the other wishes let one, and see how much of the frame is left.
    unframed = grid.lowest(without=["framing"])
    nearest_place = grid.at_most["place"]
    add(
        "tighter framing",
        (nearest_place - f) / (fits - f),
        nearest_place,
        (unframed <= nearest_place) & (nearest_place < fits) & (nearest_place > f),
        least=False,
    )
    # At the farthest allowed place every other wish is easiest.
    reachable = np.isfinite(high) & (high > 1.01 * f)
    s = np.where(reachable, high, 2.0 * f)
    zone = lens.depth_of_field(f, _N, s, wishes.circle_of_confusion_m)
    add(
        "less room",
        _share_of_room(wishes.room, zone),
        s,
        reachable & (grid.lowest(without=["room"]) <= high),
        least=False,
    )
    if wishes.light is not None:
        dim = reachable & (grid.lowest(without=["light"]) <= high)
        longest = wishes.circle_of_confusion_m * (s - f) / (wishes.speed_m_s * f)
        time_thirds = np.ceil(-3.0 * np.log2(longest) - 1e-9)
        now = _time_thirds_at(wishes.light, wishes.light.highest)
        missing_thirds = time_thirds - now
        top = wishes.light.highest.thirds
        on_dial = top + missing_thirds <= exposure.SPEEDS.last.thirds
        # Thirds of a stop above ISO 100 compare speeds; the dial names the least of them below.
        more = np.asarray(top + missing_thirds, np.float64)
        add("higher ISO", more, s, dim & on_dial, least=True)
        # Light counts in whole thirds, rounded down: the least that reaches the third wanted.
        wanted_ev = (exposure.thirds_of_stops(wishes.light.ev100) + missing_thirds) / 3.0
        add("more light", wanted_ev, s, dim, least=True)
        time = np.exp2(-now / 3.0)
        too_dark = now < exposure.SHUTTER_TIMES.first.thirds
        add(
            "slower movement",
            wishes.circle_of_confusion_m * (s - f) / (f * time),
            s,
            dim & ~too_dark,
            least=False,
        )
    found.extend(_another_lens(wishes, grid))
    return [
        replace(x, value=exposure.SPEEDS.at(round(x.value)).nominal)
        if x.what == "higher ISO"
        else x
        for x in found
    ]


def _relaxations_of_two(wishes: Wishes, lenses: Sequence[LensChoice]) -> list[Relaxation]:
    """One wish given up altogether, and the smallest change of another beside it."""
    found: list[Relaxation] = []
    given_up: tuple[tuple[Bound, Wishes], ...] = (
        ("light", replace(wishes, light=None)),
        ("place", replace(wishes, farthest_m=float("inf"))),
        ("loosest framing", replace(wishes, loosest=1e3)),
    )
    for beside, fewer in given_up:
        grid = _grid(fewer, lenses)
        if np.any(grid.open & (grid.lowest() <= grid.highest())):
            continue  # enough by itself, but further than anybody would go
        changes = _relaxations(fewer, grid)
        found.extend(replace(change, beside=beside) for change in changes)
    return found


def _share_of_room(wanted: Room, zone: lens.DepthOfField) -> FloatArray:
    """What part of the room wanted there is: the scantier side."""
    shares = []
    if wanted.in_front_m > 0:
        shares.append(zone.in_front_m / wanted.in_front_m)
    if wanted.behind_m > 0:
        shares.append(zone.behind_m / wanted.behind_m)
    if wanted.in_all_m > 0:
        shares.append(zone.total_m / wanted.in_all_m)
    return np.asarray(np.minimum.reduce(shares))


_OTHER_FOCAL_LENGTHS_MM = (
    8, 10, 12, 14, 16, 18, 20, 24, 28, 35, 40, 50, 60, 70, 85, 105, 135, 180, 200, 300,
)  # fmt: skip


def _another_lens(wishes: Wishes, grid: _Grid) -> list[Relaxation]:
    """The usual focal length nearest to an owned one that would do, at an aperture midway.

    The lens returned opens no wider than that aperture: a faster one is not needed.
    """
    usual = [LensChoice(f"{x} mm", x / 1000.0) for x in _OTHER_FOCAL_LENGTHS_MM]
    others = _grid(wishes, usual)
    low = others.lowest()
    possible = others.open & (low <= others.highest())
    if not possible.any():
        return []
    change = np.abs(np.log(others.f) - np.log(grid.f[:, 0])).min(axis=1)
    row = int(np.argmin(np.where(possible.any(axis=1), change, np.inf)))
    columns = np.flatnonzero(possible[row])
    column = int(columns[columns.size // 2])
    aperture = _APERTURES[column]
    choice = replace(usual[row], widest_f_number=aperture.nominal)
    return [
        Relaxation("another lens", choice.focal_length_m, choice, aperture, float(low[row, column]))
    ]
