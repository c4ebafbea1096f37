"""Still postures: standing, stepping, seated, crouching, leaning, arms crossed, holding.

Each is made at the origin, facing the camera (-y), shoes on the floor, and then moved into place.
Lengths in metres, angles in radians.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from .body import SIDES, Arm, Leg, Posture, RestBody, Side, hanging_arm, hip_centre, upright
from .rotation import FORWARD, Array, between, pitch, roll, unit, yaw
from .wardrobe import SHOE_SOLE_M

CHAIR_SEAT_M = 0.46
WHEELCHAIR_SEAT_M = 0.50
Random = np.random.Generator


def _sign(side: Side) -> float:
    return 1.0 if side == "L" else -1.0


def _rise(body: RestBody, side: Side) -> float:
    """Ankle height above the floor in shoes, metres."""
    return float(body.joint(f"foot.{side}")[2]) - body.sole_z + SHOE_SOLE_M


def _arms(
    upper: tuple[float, float, float], fore: tuple[float, float, float], twist: float = 0.85
) -> dict[Side, Arm]:
    """Both arms, given for the left one: x outwards, y backwards, z up."""
    return {
        s: Arm(
            unit(np.array([_sign(s) * upper[0], upper[1], upper[2]])),
            unit(np.array([_sign(s) * fore[0], fore[1], fore[2]])),
            twist,
        )
        for s in SIDES
    }


def standing(body: RestBody, random: Random) -> Posture:
    """Standing at ease, weight a little to one side."""
    base = upright(body)
    shift = float(random.uniform(-0.025, 0.025))
    width = float(random.uniform(0.9, 1.35))
    legs = {}
    for side in SIDES:
        ankle = base.legs[side].ankle.copy()
        ankle[0] *= width
        ankle[2] = _rise(body, side)
        toe_out = yaw(_sign(side) * float(random.uniform(0.0, 0.18)))
        legs[side] = Leg(ankle, toe_out, toe_out @ FORWARD)
    hips = base.hips + np.array([shift, 0.0, SHOE_SOLE_M - 0.008 - 0.12 * abs(shift)])
    thorax = yaw(float(random.uniform(-0.08, 0.08))) @ pitch(float(random.uniform(0.0, 0.05)))
    arms = {
        s: hanging_arm(
            s,
            float(random.uniform(0.12, 0.24)),
            float(random.uniform(0.12, 0.5)),
            float(random.uniform(-0.1, 0.12)),
        )
        for s in SIDES
    }
    return Posture(hips, roll(shift), thorax, np.eye(3), legs, arms)


def stepping(body: RestBody, random: Random) -> Posture:
    """A step in progress: one foot ahead, the other on its ball."""
    base = standing(body, random)
    first: Side = "L" if random.random() < 0.5 else "R"
    other: Side = "R" if first == "L" else "L"
    reach = float(random.uniform(0.14, 0.26))
    hips = base.hips - np.array([0.0, 0.0, 0.10 * reach + 0.25 * reach**2])
    heel_up = 1.6 * reach
    front, back = base.legs[first].ankle.copy(), base.legs[other].ankle.copy()
    front[1] -= reach
    back[1] += reach
    back[2] += 0.13 * math.sin(heel_up)
    legs: Mapping[Side, Leg] = {
        first: Leg(front),
        other: Leg(back, pitch(heel_up), FORWARD, heel_up),
    }
    swing = 1.5 * reach
    arms: Mapping[Side, Arm] = {
        first: hanging_arm(first, 0.16, 0.25, -swing),
        other: hanging_arm(other, 0.16, 0.35, swing),
    }
    return replace(base, hips=hips, legs=legs, arms=arms)


def _sitting(body: RestBody, seat_m: float, feet_y: float, feet_z: float, lean: float) -> Posture:
    """Hips on a seat, feet ahead; hands on the thighs."""
    heavy = 0.03 * max(body.build.weight - 0.4, 0.0)
    hips = np.array([0.0, 0.0, seat_m + 0.052 * body.stature_m + heavy])
    legs = {}
    for side in SIDES:
        ankle = np.array([_sign(side) * 0.11, feet_y, feet_z + _rise(body, side)])
        legs[side] = Leg(ankle, np.eye(3), unit(np.array([_sign(side) * 0.12, -1.0, 0.8])))
    arms = _arms((0.22, -0.28, -0.93), (-0.10, -0.90, -0.34), 0.4)
    return Posture(hips, pitch(-0.12 + 0.5 * lean), pitch(lean), np.eye(3), legs, arms)


def seated(body: RestBody, random: Random) -> Posture:
    """On a chair."""
    thigh = float(np.linalg.norm(body.joint("lowerleg01.L") - body.joint("upperleg01.L")))
    feet = -thigh - float(random.uniform(-0.08, 0.10))
    return _sitting(body, CHAIR_SEAT_M, feet, 0.0, float(random.uniform(-0.05, 0.25)))


def in_wheelchair(body: RestBody, random: Random) -> Posture:
    """On a wheeled seat, feet on the rest, forearms on the arm rests."""
    lean = float(random.uniform(-0.08, 0.12))
    base = _sitting(body, WHEELCHAIR_SEAT_M, -0.52, 0.118, lean)
    return replace(base, arms=_arms((0.30, -0.10, -0.95), (0.02, -0.97, -0.18), 0.5))


def crouching(body: RestBody, random: Random) -> Posture:
    """Squatting on the balls of the feet, forearms towards the knees."""
    depth = float(random.uniform(0.30, 0.46)) * body.stature_m / 1.7
    legs = {}
    for side in SIDES:
        heel_up = float(random.uniform(0.25, 0.6))
        ankle = np.array([_sign(side) * 0.13, -0.10, _rise(body, side) + 0.12 * math.sin(heel_up)])
        knee = unit(np.array([_sign(side) * 0.35, -1.0, 0.35]))
        legs[side] = Leg(ankle, yaw(_sign(side) * 0.2) @ pitch(heel_up), knee, heel_up)
    lean = float(random.uniform(0.25, 0.65))
    hips = np.array([0.0, 0.10, depth])
    arms = _arms((0.25, -0.75, -0.6), (-0.30, -0.85, -0.1), 0.4)
    return Posture(hips, pitch(0.4 * lean), pitch(lean), pitch(0.1), legs, arms)


def leaning(body: RestBody, random: Random) -> Posture:
    """Bent forward from the hips, hands towards the thighs."""
    base = standing(body, random)
    lean = float(random.uniform(0.35, 0.85))
    hips = base.hips + np.array([0.0, 0.16 * lean, -0.05 * lean])
    arms = _arms((0.18, -0.20 - 0.55 * lean, -0.9), (0.02, -0.15, -1.0), 0.6)
    return replace(
        base, hips=hips, pelvis=pitch(0.55 * lean), thorax=pitch(lean), head=pitch(0.2), arms=arms
    )


def arms_crossed(body: RestBody, random: Random) -> Posture:
    """Standing with the forearms crossed before the chest."""
    base = standing(body, random)
    arms: dict[Side, Arm] = {
        "L": Arm(unit(np.array([0.22, -0.38, -0.9])), unit(np.array([-0.93, -0.30, 0.12])), 0.2),
        "R": Arm(unit(np.array([-0.22, -0.30, -0.9])), unit(np.array([0.93, -0.42, 0.22])), 0.2),
    }
    return replace(base, arms=arms)


def holding(body: RestBody, random: Random) -> Posture:
    """Standing, carrying a box with both hands before the belly."""
    base = standing(body, random)
    height = float(random.uniform(-0.25, 0.25))
    return replace(base, arms=_arms((0.20, -0.12, -0.97), (-0.16, -0.95, height), 0.95))


POSTURES: Mapping[str, Callable[[RestBody, Random], Posture]] = {
    "standing": standing,
    "stepping": stepping,
    "seated": seated,
    "wheelchair": in_wheelchair,
    "crouching": crouching,
    "leaning": leaning,
    "arms_crossed": arms_crossed,
    "holding": holding,
}


def placed(
    body: RestBody, posture: Posture, place: Array, turn: float, look_at: Array | None
) -> Posture:
    """Turn a posture about the vertical and put it at a floor point (x, y).

    With `look_at` (world, metres) the head turns towards it, 70 degrees at most from the chest.
    """
    rotation = yaw(turn)
    shift = np.array([place[0], place[1], 0.0])
    hips = rotation @ posture.hips + shift
    thorax = rotation @ posture.thorax
    head = rotation @ posture.head
    if look_at is not None:
        neck = body.joint("head") - hip_centre(body)
        target = look_at - (hips + thorax @ neck)
        heading = math.atan2(target[0], -target[1])
        off = (heading - turn + math.pi) % (2.0 * math.pi) - math.pi
        if abs(off) < 2.2:
            down = math.atan2(-target[2], float(np.hypot(target[0], target[1])))
            head = yaw(turn + float(np.clip(off, -1.2, 1.2))) @ pitch(0.8 * down)
            head = between(rotation @ posture.head, head, 0.95)
    legs = {
        s: Leg(rotation @ g.ankle + shift, rotation @ g.foot, rotation @ g.knee_towards, g.toes_up)
        for s, g in posture.legs.items()
    }
    arms = {
        s: replace(a, upper=rotation @ a.upper, fore=rotation @ a.fore)
        for s, a in posture.arms.items()
    }
    return Posture(hips, rotation @ posture.pelvis, thorax, head, legs, arms)
