"""The invented walks: what the person does, and when. Times in seconds, places in metres."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from .body import PosedBody, Posture, RestBody, pose
from .gait import Footfall, Movement, Walker
from .rotation import Array
from .truth import Camera, true_points
from .wardrobe import SHOE_SOLE_M


@dataclass(frozen=True)
class Phase:
    """A named stretch of time that ends at `end` seconds."""

    name: str
    end: float


class Motion(Protocol):
    """Anything that gives postures over time: a walk, a rolling seat."""

    @property
    def duration(self) -> float:
        """Seconds."""

    def postures(self, body: RestBody) -> Callable[[float], Posture]:
        """The function from time to posture for a body."""

    def phase(self, time: float) -> str:
        """The phase's name at a time."""


@dataclass(frozen=True)
class Scenario:
    """Footfalls with phases, total duration and what is looked at when."""

    footfalls: Sequence[Footfall]
    phases: Sequence[Phase]
    duration: float
    gaze: Callable[[float], Array]
    seed: int = 1

    def postures(self, body: RestBody) -> Callable[[float], Posture]:
        """The movement of a body through this scenario."""
        movement = Movement(body, self.footfalls, self.duration, self.gaze, SHOE_SOLE_M, self.seed)
        return movement.posture

    def phase(self, time: float) -> str:
        """The phase's name at a time."""
        return phase_at(self.phases, time)


def phase_at(phases: Sequence[Phase], time: float) -> str:
    """Name of the phase that a time (seconds) falls into."""
    return next((p.name for p in phases if time < p.end), phases[-1].name)


def gaze_through(
    keys: Sequence[tuple[float, Array]], settle: float = 0.30
) -> Callable[[float], Array]:
    """Look from one target to the next, each change taking `settle` seconds."""

    def look(time: float) -> Array:
        target = keys[0][1]
        for start, following in keys[1:]:
            share = min(max((time - start) / settle, 0.0), 1.0)
            share = share * share * (3.0 - 2.0 * share)
            target = target + (following - target) * share
        return target

    return look


def too_far_then_forward(camera: Camera, end_y: float = 4.15, speed: float = 1.15) -> Scenario:
    """Walk in past the mark, turn, notice being too far, step forward into the zone, stand."""
    start, far = np.array([1.30, 1.00]), np.array([0.16, 5.43])
    way = far - start
    heading = math.atan2(way[0], -way[1])
    walker = Walker(start, heading)
    walker.time = -0.85
    walker.walk_to(far, speed, 0.58)
    arrive = walker.time
    walker.wait(0.10)
    walker.turn_to(0.0 if heading < 0 else 2.0 * math.pi, 4, 0.40)
    turned = walker.time
    walker.wait(1.15)
    realise = walker.time
    walker.walk_to(np.array([0.06, end_y]), 0.92, 0.42)
    stopped = walker.time
    settle = stopped + 0.5
    duration = math.ceil((settle + 4.3) * 25.0) / 25.0
    lens = camera.position
    ahead = np.array([0.1, 9.0, 1.45])
    floor = np.array([0.05, 3.2, 0.35])
    gaze = gaze_through(
        [
            (0.0, ahead),
            (arrive - 0.1, np.array([-3.0 if heading < 0 else 3.0, 4.0, 1.4])),
            (arrive + 0.75, lens),
            (turned + 0.45, lens + np.array([0.0, 0.0, -0.05])),
            (realise - 0.25, floor),
            (realise + 0.75, lens),
        ]
    )
    phases = (
        Phase("walking_away", arrive),
        Phase("turning", turned),
        Phase("standing_too_far", realise),
        Phase("stepping_forward", stopped),
        Phase("settling", settle),
        Phase("standing_in_zone", 1e9),
    )
    return Scenario(walker.finish(), phases, duration, gaze)


def aim_end(
    camera: Camera, body: RestBody, make: Callable[[float], Motion], eye_z_m: float
) -> Motion:
    """The scenario whose last second has its mean eye depth at `eye_z_m` (camera frame)."""
    end_y = eye_z_m + 0.1
    for _ in range(4):
        scenario = make(end_y)
        posture_at = scenario.postures(body)
        times = np.linspace(scenario.duration - 1.0, scenario.duration - 0.04, 8)
        depth = np.mean([eye_depth(camera, pose(body, posture_at(float(t)))) for t in times])
        if abs(depth - eye_z_m) < 5e-4:
            break
        end_y += eye_z_m - float(depth)
    return scenario


def eye_depth(camera: Camera, posed: PosedBody) -> float:
    """Axial depth of the point between the pupils, metres from the lens."""
    return float(true_points(camera, posed)["eye_mid"][2])
