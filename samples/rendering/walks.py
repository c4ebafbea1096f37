"""Five further walks before the shipped clip's camera: too far, overshoot, short, aside, rolling.

python -m samples.rendering.walks --out FOLDER --work FOLDER
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from . import props
from .body import Posture, RestBody
from .gait import Walker
from .postures import WHEELCHAIR_SEAT_M, in_wheelchair, placed
from .rotation import Array, pitch, unit
from .scenario import Phase, Scenario, gaze_through, phase_at
from .studio import Studio
from .walk_clip import CAMERA, Walk, make_walk

RATE = 12.5
LENS = CAMERA.position
AHEAD = np.array([0.2, 9.0, 1.4])


def _walk_in(start: Sequence[float], goal: Sequence[float], before: float) -> Walker:
    """Somebody who set off from `start` to `goal` (x, y) `before` seconds ago."""
    way = np.asarray(goal) - np.asarray(start)
    walker = Walker(np.array(start, dtype=float), math.atan2(way[0], -way[1]))
    walker.time = -before
    walker.walk_to(np.asarray(goal, dtype=float), 1.15)
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


WALKS = (
    Walk("stops_too_far", stops_too_far, 5.15, rate=RATE),
    Walk("overshoots", overshoots, 2.95, rate=RATE),
    Walk("stops_short", stops_short, 3.0, rate=RATE),
    Walk("stands_aside", stands_aside, 4.0, rate=RATE),
    Walk("rolls_in", Rolling, 4.05, rate=RATE, things=_seat),
)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--work", type=Path, required=True, help="folder for single frames")
    parser.add_argument("--every", type=int, default=1, help="render every n-th frame only")
    options = parser.parse_args()
    for walk in WALKS:
        make_walk(walk, options.out, options.work, options.every)


if __name__ == "__main__":
    main()
