"""Walking, turning on the spot, stepping and standing, as postures over time.

A plan is a list of footfalls. Feet are planted: while a foot bears weight its pivot (heel, whole
sole or ball) does not move. The pelvis follows the feet, its height follows from how far the legs
reach, arms and trunk answer to the legs. When the feet rest, what remains is a slight sway.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from .body import SIDES, Arm, Leg, Posture, RestBody, Side, hip_centre
from .rotation import FORWARD, Array, about, pitch, roll, unit, yaw

RATE_HZ = 100.0
"""Internal time resolution of the planned movement."""


@dataclass(frozen=True)
class Footfall:
    """One foot on the ground: where, which way, from when to when (seconds).

    `place` is the point of the floor below the ankle (x, y in metres); `vigour` is 0 for a shuffle
    with a flat foot, 1 for a full stride with heel strike and push-off.
    """

    side: Side
    place: Array
    heading: float
    start: float
    end: float
    vigour_in: float
    vigour_out: float


@dataclass
class Walker:
    """Plans footfalls one after the other. Headings in radians: 0 faces the camera (-y)."""

    place: Array
    heading: float
    half_width: float = 0.085
    time: float = 0.0
    footfalls: list[Footfall] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._open: dict[Side, Footfall] = {}
        for side in SIDES:
            self._open[side] = Footfall(
                side,
                self._beside(self.place, self.heading, side),
                self.heading,
                -9.0,
                0.0,
                0.0,
                0.0,
            )
        self._next: Side = "L"

    def _beside(self, place: Array, heading: float, side: Side) -> Array:
        offset = self.half_width * (1.0 if side == "L" else -1.0)
        return place + (yaw(heading) @ np.array([offset, 0.0, 0.0]))[:2]

    def _step(
        self, place: Array, heading: float, duration: float, vigour: float, double: float
    ) -> None:
        """Move the next foot: it lands `duration` after the last one; `double` s of both down."""
        side = self._next
        old = self._open[side]
        lift = self.time + double
        self.time += duration
        self.footfalls.append(
            Footfall(side, old.place, old.heading, old.start, lift, old.vigour_in, vigour)
        )
        self._open[side] = Footfall(side, place, heading, self.time, 0.0, vigour, 0.0)
        self._next = "R" if side == "L" else "L"
        self.place, self.heading = place, heading

    def walk_to(
        self, goal: Array, speed: float, stride_step: float = 0.58, last_short: bool = True
    ) -> None:
        """Walk straight to a goal (x, y) and stop with the feet side by side."""
        start = (self._open["L"].place + self._open["R"].place) / 2.0
        way = np.asarray(goal, dtype=float) - start
        length = float(np.linalg.norm(way))
        direction = way / length
        heading = math.atan2(direction[0], -direction[1])
        count = max(1, round(length / stride_step))
        step = length / count
        duration = step / speed
        for index in range(count):
            middle = start + direction * step * (index + 1)
            gentle = 0.75 if index in (0, count - 1) else 1.0
            vigour = min(step / 0.62, 1.0) * gentle
            slow = 1.15 if index in (0, count - 1) else 1.0
            spot = self._beside(middle, heading, self._next)
            self._step(spot, heading, duration * slow, vigour, 0.24 * duration)
        if last_short:
            spot = self._beside(np.asarray(goal, dtype=float), heading, self._next)
            self._step(spot, heading, duration * 1.05, 0.35, 0.30 * duration)

    def turn_to(self, heading: float, steps: int = 4, duration: float = 0.42) -> None:
        """Turn on the spot in small steps; the inner foot goes first."""
        centre = (self._open["L"].place + self._open["R"].place) / 2.0
        start = self._open["L"].heading
        self._next = "L" if heading > start else "R"
        for index in range(steps):
            share = (index // 2 + 1) / math.ceil(steps / 2)
            now = start + (heading - start) * share
            self._step(self._beside(centre, now, self._next), now, duration, 0.12, 0.16 * duration)

    def wait(self, duration: float) -> None:
        """Stand with both feet down."""
        self.time += duration

    def finish(self) -> list[Footfall]:
        """All footfalls, the last ones lasting for ever."""
        rest = [
            Footfall(f.side, f.place, f.heading, f.start, 1e9, f.vigour_in, 0.0)
            for f in self._open.values()
        ]
        return sorted(self.footfalls + rest, key=lambda f: f.start)


def _ease(share: float) -> float:
    """Minimum-jerk step from 0 to 1."""
    s = min(max(share, 0.0), 1.0)
    return s**3 * (10.0 - 15.0 * s + 6.0 * s * s)


class FootGeometry:
    """Heel and toe joint of a shod foot from its ankle, toe tip from its toe joint (rest posture).

    Metres; `rise` is the ankle's height above the floor when the foot is flat.
    """

    def __init__(self, body: RestBody, side: Side, sole_m: float) -> None:
        ankle = body.joint(f"foot.{side}")
        ball = (body.joint(f"toe1-1.{side}") + body.joint(f"toe5-1.{side}")) / 2.0
        floor = body.sole_z - sole_m
        heel = (
            body.keypoint_weight[body.keypoints.index("left_heel" if side == "L" else "right_heel")]
            @ body.vertices
        )
        self.rise = float(ankle[2] - floor)
        self.toe_joint = ball - ankle
        tip = (
            body.keypoint_weight[
                body.keypoints.index("left_big_toe" if side == "L" else "right_big_toe")
            ]
            @ body.vertices
        )
        self.toe_tip = np.array([ball[0], tip[1] - 0.025, floor]) - ball
        self.heel = np.array([heel[0] - ankle[0], heel[1] - ankle[1] + 0.01, -self.rise])


class Movement:
    """Postures over time for a plan of footfalls.

    `gaze` gives for a time the world point looked at; `sole_m` is the height of the shoes' soles.
    """

    def __init__(
        self,
        body: RestBody,
        footfalls: Sequence[Footfall],
        duration: float,
        gaze: Callable[[float], Array],
        sole_m: float,
        seed: int = 1,
    ) -> None:
        self.body = body
        self.duration = duration
        self.gaze = gaze
        self._feet = {s: FootGeometry(body, s, sole_m) for s in SIDES}
        self._falls = {s: [f for f in footfalls if f.side == s] for s in SIDES}
        self._leg = min(body.leg_length(s) for s in SIDES)
        hips = hip_centre(body)
        self._hip_x = abs(float(body.joint("upperleg01.L")[0] - hips[0]))
        random = np.random.default_rng(seed)
        self._sway = random.uniform(0.0, 2.0 * math.pi, (8, 4))
        self._prepare()

    def foot(self, side: Side, time: float) -> tuple[Array, Array, float]:
        """Ankle (metres), foot rotation and toe bend (radians) of one foot."""
        falls = self._falls[side]
        current = falls[0]
        following = None
        for index, fall in enumerate(falls):
            if fall.start <= time:
                current = fall
                following = falls[index + 1] if index + 1 < len(falls) else None
        if time <= current.end or following is None:
            return self._planted(side, current, time)
        return self._swinging(side, current, following, time)

    def _at_pivot(
        self, side: Side, fall: Footfall, pivot: Array, tip: float
    ) -> tuple[Array, Array]:
        """Ankle and rotation when the foot tips by `tip` about a pivot that stays put."""
        turn = yaw(fall.heading)
        rotation = turn @ pitch(tip)
        flat_ankle = np.array([fall.place[0], fall.place[1], self._feet[side].rise])
        fixed = flat_ankle + turn @ pivot
        return fixed - rotation @ pivot, rotation

    def _planted(self, side: Side, fall: Footfall, time: float) -> tuple[Array, Array, float]:
        geometry = self._feet[side]
        since, left = time - fall.start, fall.end - time
        strike, push = 0.11, min(0.30, 0.6 * (fall.end - fall.start))
        if since < strike:
            tip = -0.30 * fall.vigour_in * (1.0 - _ease(since / strike))
            return (*self._at_pivot(side, fall, geometry.heel, tip), 0.0)
        if left < push:
            tip = 0.62 * fall.vigour_out * (1.0 - left / push) ** 2
            return (*self._at_pivot(side, fall, geometry.toe_joint, tip), tip)
        return (*self._at_pivot(side, fall, geometry.toe_joint, 0.0), 0.0)

    def _swinging(
        self, side: Side, old: Footfall, new: Footfall, time: float
    ) -> tuple[Array, Array, float]:
        share = (time - old.end) / (new.start - old.end)
        start, _, _ = self._planted(side, old, old.end)
        end, _, _ = self._planted(side, new, new.start)
        eased = _ease(share)
        tip_start, tip_end = 0.62 * old.vigour_out, -0.30 * new.vigour_in
        early = 0.12 * old.vigour_out * math.sin(math.pi * min(share / 0.45, 1.0))
        tip = tip_start + (tip_end - tip_start) * _ease(share * 1.12) + early
        ankle = start + (end - start) * eased
        clearance = 0.014 + 0.008 * old.vigour_out
        ankle[2] += clearance * math.sin(math.pi * share) ** 1.5
        heading = old.heading + (new.heading - old.heading) * eased
        bend = tip_start * (1.0 - _ease(share * 2.2))
        rotation = yaw(heading) @ pitch(tip)
        toe_joint = ankle + rotation @ self._feet[side].toe_joint
        toe_tip = toe_joint + yaw(heading) @ pitch(tip - bend) @ self._feet[side].toe_tip
        heel = ankle + rotation @ self._feet[side].heel
        lowest = min(float(toe_tip[2]), float(heel[2]))
        wanted = 0.016 * math.sin(math.pi * share) ** 0.7
        ankle[2] += max(0.0, wanted - lowest)
        return ankle, rotation, bend

    def _prepare(self) -> None:
        """Pelvis path, height and heading on a fine time grid."""
        self._times = np.arange(-1.5, self.duration + 1.5, 1.0 / RATE_HZ)
        count = len(self._times)
        ankles = {s: np.zeros((count, 3)) for s in SIDES}
        flat = {s: np.zeros((count, 2)) for s in SIDES}
        headings = {s: np.zeros(count) for s in SIDES}
        loaded = {s: np.zeros(count) for s in SIDES}
        for side in SIDES:
            for i, time in enumerate(self._times):
                ankles[side][i], _, _ = self.foot(side, float(time))
                flat[side][i], headings[side][i], loaded[side][i] = self._progress(side, time)
        path = (flat["L"] + flat["R"]) / 2.0
        total = loaded["L"] + loaded["R"]
        share = np.where(total > 0, loaded["L"] / np.maximum(total, 1e-9), 0.5)
        share = _blur(share, 0.10)
        lean = (share - 0.5)[:, None] * (flat["L"] - flat["R"])
        forward = np.stack([np.sin(headings["L"]), -np.cos(headings["L"])], axis=1)
        lean -= forward * np.sum(lean * forward, axis=1, keepdims=True)
        self._path = _blur(path, 0.19) + _blur(lean, 0.09) * 0.36
        self._heading = _blur((headings["L"] + headings["R"]) / 2.0, 0.12)
        limit = np.full(count, np.inf)
        for side in SIDES:
            sign = 1.0 if side == "L" else -1.0
            across = np.stack([np.cos(self._heading), np.sin(self._heading)], axis=1)
            hip = self._path + sign * self._hip_x * across
            gap = np.linalg.norm(ankles[side][:, :2] - hip, axis=1)
            reach = 0.9980 * self._leg
            limit = np.minimum(
                limit, ankles[side][:, 2] + np.sqrt(np.maximum(reach**2 - gap**2, 0.04))
            )
        window = int(0.03 * RATE_HZ)
        lowest = np.array([limit[max(i - window, 0) : i + window + 1].min() for i in range(count)])
        self._height = _blur(lowest, 0.04)
        self._ankles = ankles

    def _progress(self, side: Side, time: float) -> tuple[Array, float, float]:
        """Ground point and heading of a foot, gliding over in its swing, and whether it bears."""
        falls = self._falls[side]
        for index, fall in enumerate(falls):
            following = falls[index + 1] if index + 1 < len(falls) else None
            if time <= fall.end or following is None:
                return fall.place, fall.heading, 1.0
            if time < following.start:
                share = (time - fall.end) / (following.start - fall.end)
                eased = 0.5 * _ease(share) + 0.5 * share
                place = fall.place + (following.place - fall.place) * eased
                heading = fall.heading + (following.heading - fall.heading) * eased
                return place, heading, 0.0
        raise AssertionError("the last footfall never ends")

    def _value(self, series: Array, time: float) -> Array:
        """A prepared series (N,) or (N, D) at a time, interpolated."""
        if series.ndim == 1:
            return np.float64(np.interp(time, self._times, series))  # type: ignore[return-value]
        return np.array([np.interp(time, self._times, column) for column in series.T])

    def _drift(self, time: float, row: int) -> float:
        """Slow irregular movement of unit size."""
        phases = self._sway[row]
        return float(
            0.55 * math.sin(2 * math.pi * 0.17 * time + phases[0])
            + 0.35 * math.sin(2 * math.pi * 0.31 * time + phases[1])
            + 0.20 * math.sin(2 * math.pi * 0.53 * time + phases[2])
            + 0.08 * math.sin(2 * math.pi * 1.1 * time + phases[3])
        )

    def posture(self, time: float) -> Posture:
        """The whole posture at a time."""
        heading = float(self._value(self._heading, time))
        face = yaw(heading)
        ahead = face @ FORWARD
        path = self._value(self._path, time)
        sway = face @ np.array([0.007 * self._drift(time, 0), 0.011 * self._drift(time, 1), 0.0])
        hips = np.array([path[0], path[1], float(self._value(self._height, time)) - 0.002]) + sway
        feet = {s: self.foot(s, time) for s in SIDES}
        lead = {s: float((feet[s][0] - hips) @ ahead) for s in SIDES}
        stride = (lead["L"] - lead["R"]) / 0.62
        load = {s: max(0.0, feet[s][0][2] - self._feet[s].rise) for s in SIDES}
        list_ = 0.35 * (min(load["R"], 0.08) - min(load["L"], 0.08))
        speed = self._speed(time)
        pelvis = face @ yaw(-0.09 * stride) @ roll(-list_) @ pitch(0.02 + 0.02 * speed)
        breath = 0.006 * math.sin(2 * math.pi * 0.27 * time)
        thorax = (
            face
            @ yaw(0.08 * stride + 0.015 * self._drift(time, 2))
            @ roll(0.4 * list_ + 0.010 * self._drift(time, 3))
            @ pitch(0.015 + 0.045 * speed + breath + 0.010 * self._drift(time, 4))
        )
        legs = {}
        for side in SIDES:
            ankle, rotation, toes = feet[side]
            foot_ahead = rotation @ FORWARD
            knee = unit(ahead + 0.6 * np.array([foot_ahead[0], foot_ahead[1], 0.0]))
            legs[side] = Leg(ankle, rotation, knee, toes)
        arms = {s: self._arm(s, time, lead, thorax) for s in SIDES}
        head = self._head(time, hips, heading, thorax)
        return Posture(hips, pelvis, thorax, head, legs, arms)

    def _speed(self, time: float) -> float:
        """Forward speed of the pelvis, m/s."""
        step = 0.05
        change = self._value(self._path, time + step) - self._value(self._path, time - step)
        return float(np.linalg.norm(change)) / (2.0 * step)

    def _arm(self, side: Side, time: float, lead: Mapping[Side, float], thorax: Array) -> Arm:
        """Arms swing against the legs."""
        other: Side = "R" if side == "L" else "L"
        swing = 1.05 * (lead[other] - lead[side]) / 2.0 / self._leg + 0.03
        swing += 0.02 * self._drift(time, 5 if side == "L" else 6)
        bend = 0.20 + 0.5 * max(swing, 0.0)
        out = 1.0 if side == "L" else -1.0
        spread = 0.17
        upper = about(np.array([1.0, 0.0, 0.0]), -swing) @ unit(np.array([out * spread, 0.0, -1.0]))
        fore = about(np.array([1.0, 0.0, 0.0]), -(swing + bend)) @ unit(
            np.array([out * spread * 0.3, 0.0, -1.0])
        )
        upright = yaw(math.atan2((thorax @ FORWARD)[0], -(thorax @ FORWARD)[1]))
        return Arm(upright @ upper, upright @ fore)

    def _head(self, time: float, hips: Array, heading: float, thorax: Array) -> Array:
        """The head looks at `gaze`, at most 75 degrees from the body's heading."""
        target = self.gaze(time) - (hips + np.array([0.0, 0.0, 0.72 * self._leg / 0.83]))
        turn = math.atan2(target[0], -target[1])
        off = (turn - heading + math.pi) % (2.0 * math.pi) - math.pi
        off = float(np.clip(off, -1.3, 1.3))
        down = math.atan2(-target[2], float(np.hypot(target[0], target[1])))
        nod = 0.8 * float(np.clip(down, -0.5, 0.5)) + 0.012 * self._drift(time, 7)
        return yaw(heading + off) @ pitch(nod) @ roll(0.012 * self._drift(time + 40.0, 7))


def _blur(series: Array, sigma_s: float) -> Array:
    """Gaussian smoothing in time of (N,) or (N, D), ends held."""
    radius = math.ceil(3.0 * sigma_s * RATE_HZ)
    offsets = np.arange(-radius, radius + 1)
    kernel = np.exp(-0.5 * (offsets / (sigma_s * RATE_HZ)) ** 2)
    kernel /= kernel.sum()
    columns = series[:, None] if series.ndim == 1 else series
    padded = np.pad(columns, ((radius, radius), (0, 0)), mode="edge")
    out = np.stack([np.convolve(c, kernel, mode="valid") for c in padded.T], axis=1)
    return out[:, 0] if series.ndim == 1 else out
