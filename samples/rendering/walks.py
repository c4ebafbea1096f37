"""Further walks before the shipped clip's camera, of people of several kinds.

python -m samples.rendering.walks --out FOLDER --work FOLDER [--only NAME ...]
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from . import props
from .body import Arm, Build, Posture, RestBody, Side
from .gait import Walker
from .limb_end import LimbEnd
from .postures import WHEELCHAIR_SEAT_M, in_wheelchair, placed
from .rotation import Array, pitch, unit
from .scenario import Motion, Phase, Scenario, gaze_through, phase_at
from .studio import Studio
from .sweep import BODIES
from .walk_clip import CAMERA, Walk, make_walk
from .wardrobe import Material, Outfit

RATE = 12.5
LENS = CAMERA.position
AHEAD = np.array([0.2, 9.0, 1.4])
LOW_CAMERA = replace(CAMERA, height_m=1.0)
"""The tripod drawn in, as for a child."""


@dataclass(frozen=True)
class Stride:
    """How somebody walks: speed (m/s), length of a step and half the distance of the feet (m)."""

    speed: float = 1.15
    step: float = 0.58
    half_width: float = 0.085


def _walk_in(
    start: Sequence[float], goal: Sequence[float], before: float, stride: Stride = Stride()
) -> Walker:
    """Somebody who set off from `start` to `goal` (x, y) `before` seconds ago."""
    way = np.asarray(goal) - np.asarray(start)
    heading = math.atan2(way[0], -way[1])
    walker = Walker(np.array(start, dtype=float), heading, stride.half_width)
    walker.time = -before
    walker.walk_to(np.asarray(goal, dtype=float), stride.speed, stride.step)
    return walker


def _turn_to_camera(walker: Walker) -> None:
    heading = walker.heading
    walker.wait(0.1)
    walker.turn_to(2.0 * math.pi if heading > 0 else 0.0, 4, 0.40)


def stops_too_far(end_y: float) -> Scenario:
    """Walks in, turns round far behind the zone, takes one small step forward, stays too far."""
    walker = _walk_in((-1.3, 1.0), (0.1, 6.0), 0.5)
    arrive = walker.time
    _turn_to_camera(walker)
    turned = walker.time
    walker.wait(0.5)
    walker.walk_to(np.array([0.05, end_y]), 0.8, 0.4)
    stopped = walker.time
    phases = (
        Phase("walking_away", arrive),
        Phase("turning", turned),
        Phase("standing_too_far", turned + 0.5),
        Phase("stepping_forward", stopped),
        Phase("standing_too_far", 1e9),
    )
    gaze = gaze_through([(0.0, AHEAD), (arrive + 0.7, LENS)])
    return Scenario(walker.finish(), phases, stopped + 2.0, gaze, seed=2)


def overshoots(end_y: float) -> Scenario:
    """Comes from the back of the room, walks through the zone and stops too near."""
    walker = _walk_in((-0.9, 7.4), (0.0, end_y), 0.3)
    stopped = walker.time
    phases = (Phase("walking_forward", stopped), Phase("standing_too_near", 1e9))
    return Scenario(walker.finish(), phases, stopped + 3.5, gaze_through([(0.0, LENS)]), seed=3)


def stops_short(end_y: float) -> Scenario:
    """Walks in from beside the camera and turns round before having reached the zone."""
    walker = _walk_in((1.35, 0.9), (-0.1, end_y), 0.7)
    arrive = walker.time
    _turn_to_camera(walker)
    phases = (
        Phase("walking_away", arrive),
        Phase("turning", walker.time),
        Phase("standing_too_near", 1e9),
    )
    gaze = gaze_through([(0.0, AHEAD), (arrive + 0.7, LENS)])
    return Scenario(walker.finish(), phases, walker.time + 4.0, gaze, seed=4)


def stands_aside(end_y: float) -> Scenario:
    """At the right distance, wholly in the picture, but far to the side of its middle."""
    walker = _walk_in((1.2, 1.0), (1.35, end_y), 0.4)
    arrive = walker.time
    _turn_to_camera(walker)
    phases = (
        Phase("walking_away", arrive),
        Phase("turning", walker.time),
        Phase("standing_aside", 1e9),
    )
    gaze = gaze_through([(0.0, AHEAD), (arrive + 0.7, LENS)])
    return Scenario(walker.finish(), phases, walker.time + 3.5, gaze, seed=5)


def child_walks_in(end_y: float) -> Scenario:
    """A child walks in past the zone, turns round, notices and comes forward into it."""
    walker = _walk_in((1.1, 1.3), (0.12, 5.5), 0.4, Stride(1.05, 0.44, 0.06))
    arrive = walker.time
    _turn_to_camera(walker)
    turned = walker.time
    walker.wait(0.5)
    realise = walker.time
    walker.walk_to(np.array([0.05, end_y]), 0.8, 0.34)
    stopped = walker.time
    phases = (
        Phase("walking_away", arrive),
        Phase("turning", turned),
        Phase("standing_too_far", realise),
        Phase("stepping_forward", stopped),
        Phase("standing_in_zone", 1e9),
    )
    gaze = gaze_through([(0.0, AHEAD), (arrive + 0.5, LOW_CAMERA.position)])
    return Scenario(walker.finish(), phases, stopped + 3.4, gaze, seed=7)


@dataclass(frozen=True)
class Raised:
    """An arm held somewhere else for a while (seconds), for somebody who faces the camera."""

    side: Side
    begin: float
    end: float
    upper: Array
    fore: Array

    def moved(self, time: float, arm: Arm) -> Arm:
        """The arm at a time; each way takes 0.4 s."""
        share = min(max(min(time - self.begin, self.end - time) / 0.4, 0.0), 1.0)
        share = share * share * (3.0 - 2.0 * share)
        if share == 0.0:
            return arm
        upper = unit(arm.upper + (unit(self.upper) - arm.upper) * share)
        return replace(arm, upper=upper, fore=unit(arm.fore + (unit(self.fore) - arm.fore) * share))


@dataclass(frozen=True)
class WithArms:
    """A walk during which arms are raised."""

    walk: Scenario
    raised: tuple[Raised, ...]

    @property
    def duration(self) -> float:
        """Seconds."""
        return self.walk.duration

    def phase(self, time: float) -> str:
        """The phase's name at a time."""
        return self.walk.phase(time)

    def postures(self, body: RestBody) -> Callable[[float], Posture]:
        """The walk's postures with those arms moved."""
        walking = self.walk.postures(body)

        def at(time: float) -> Posture:
            posture = walking(time)
            arms = dict(posture.arms)
            for one in self.raised:
                arms[one.side] = one.moved(time, arms[one.side])
            return replace(posture, arms=arms)

        return at


def arm_ends_early(end_y: float) -> Motion:
    """Comes from the back into the zone; raises the hand there is, then the other upper arm."""
    walker = _walk_in((-0.7, 6.9), (0.05, end_y), 0.3)
    stopped = walker.time
    hand, arm = stopped + 0.9, stopped + 3.7
    phases = (
        Phase("walking_forward", stopped),
        Phase("standing_in_zone", hand),
        Phase("raising_hand", hand + 2.2),
        Phase("standing_in_zone", arm),
        Phase("arm_out", arm + 3.4),
        Phase("standing_in_zone", 1e9),
    )
    walk = Scenario(walker.finish(), phases, arm + 4.6, gaze_through([(0.0, LENS)]), seed=8)
    up, up_fore = np.array([-0.55, -0.15, 0.85]), np.array([0.10, -0.05, 1.0])
    out, out_fore = np.array([1.0, -0.06, -0.03]), np.array([1.0, -0.25, 0.05])
    return WithArms(
        walk,
        (
            Raised("R", hand, hand + 2.2, up, up_fore),
            Raised("L", arm, arm + 3.4, out, out_fore),
        ),
    )


@dataclass(frozen=True)
class Rolling:
    """A person in a wheeled seat rolls in past the mark, turns on the spot and rolls forward."""

    end_y: float
    duration: float = 10.0

    def phase(self, time: float) -> str:
        """The phase's name at a time."""
        phases = (
            Phase("rolling_away", 4.2),
            Phase("turning", 6.0),
            Phase("rolling_forward", 8.0),
            Phase("sitting_in_zone", 1e9),
        )
        return phase_at(phases, time)

    def postures(self, body: RestBody) -> Callable[[float], Posture]:
        """Postures with the hands pushing the wheels while the seat moves."""
        base = in_wheelchair(body, np.random.default_rng(6))
        start, far = np.array([1.30, 1.15]), np.array([0.15, 5.3])
        near = np.array([0.05, self.end_y])
        away = math.atan2(*(far - start) * np.array([1.0, -1.0]))

        def smooth(time: float, begin: float, end: float) -> float:
            share = min(max((time - begin) / (end - begin), 0.0), 1.0)
            return share * share * (3.0 - 2.0 * share)

        def at(time: float) -> Posture:
            place = start + (far - start) * smooth(time, -0.4, 4.2)
            place = place + (near - far) * smooth(time, 6.0, 8.0)
            turn = away + (2.0 * math.pi - away) * smooth(time, 4.2, 6.0)
            busy = 1.0 - smooth(time, 7.6, 8.2)
            push = busy * math.sin(2.0 * math.pi * 0.9 * time)
            arms = {
                side: replace(
                    arm,
                    upper=unit(arm.upper + np.array([0.0, -0.35 * push, 0.0])),
                    fore=unit(arm.fore + np.array([0.0, 0.0, -0.9 * busy - 0.2 * push])),
                )
                for side, arm in base.arms.items()
            }
            sway = 0.01 * math.sin(1.3 * time) + 0.03 * push
            thorax = base.thorax @ pitch(sway)
            moved = replace(base, arms=arms, thorax=thorax)
            look: Array = LENS if time > 4.9 else AHEAD
            return placed(body, moved, place, turn, look)

        return at


def _seat(studio: Studio) -> None:
    studio.add_extra(props.wheelchair(studio.scene, np.zeros(2), 0.0, WHEELCHAIR_SEAT_M))


CHILD = Build("c120", "woman", 1.20, weight=0.45, muscle=0.5, age=0.30)
CHILD_OUTFIT = Outfit(
    skin=(0.52, 0.30, 0.19),
    shirt=Material("stripes", (0.62, 0.50, 0.10), (0.10, 0.25, 0.30), 1.3),
    trousers=Material("weave", (0.20, 0.05, 0.06), (0.30, 0.09, 0.09)),
    hair=(0.03, 0.018, 0.012),
    hair_style="short",
    sleeves="short",
)
_MAN, _MAN_OUTFIT = BODIES["m178"]
_WOMAN, _WOMAN_OUTFIT = BODIES["w158"]

WALKS = (
    Walk("stops_too_far", stops_too_far, 5.15, rate=RATE),
    Walk("overshoots", overshoots, 2.95, rate=RATE),
    Walk("stops_short", stops_short, 3.0, rate=RATE),
    Walk("stands_aside", stands_aside, 4.0, rate=RATE),
    Walk("rolls_in", Rolling, 4.05, rate=RATE, things=_seat),
    Walk("child_walks_in", child_walks_in, 4.05, CHILD, CHILD_OUTFIT, LOW_CAMERA, rate=RATE),
    Walk(
        "arm_ends_early",
        arm_ends_early,
        3.85,
        _MAN,
        replace(_MAN_OUTFIT, looseness=1.5),
        rate=RATE,
        ends=(LimbEnd("forearm", "L", 0.38),),
    ),
    Walk(
        "rolls_in_leg_ends_early",
        Rolling,
        3.95,
        _WOMAN,
        _WOMAN_OUTFIT,
        rate=RATE,
        things=_seat,
        ends=(LimbEnd("shank", "R", 0.16),),
    ),
)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--work", type=Path, required=True, help="folder for single frames")
    parser.add_argument("--every", type=int, default=1, help="render every n-th frame only")
    parser.add_argument("--only", nargs="+", choices=[w.name for w in WALKS], help="these walks")
    options = parser.parse_args()
    for walk in WALKS:
        if options.only is not None and walk.name not in options.only:
            continue
        make_walk(walk, options.out, options.work, options.every)


if __name__ == "__main__":
    main()
