"""Distance over time: a causal filter that smooths, rejects jumps and bridges short losses."""

from __future__ import annotations

import math

from assist.distance import BodyDistance, TrackedDistance

_ACCELERATION_M_S2 = 1.5
"""Spread of a walking person's acceleration towards or away from the camera; walking is comfortable
at 1.2 to 1.4 m/s (Bohannon and Williams Andrews 2011, Physiotherapy 97; from memory) and started
or stopped within a second."""
_FRAME_NOISE = 0.012
"""Relative noise from picture to picture, the part of the error that averaging does remove."""
_LEAST_NOISE = 0.001
_GATE = 4.0
_JUMPS_BELIEVED = 5
_CONFIRMED_BY = 3
"""Measurements that must agree before a new track is told: the detector's first guess at someone
who has only just come into the picture can be far off, and is gone with the next picture."""
_LOST_AFTER_S = 0.5
_LONGEST_STEP_S = 0.1
_STEADYING_S = 0.3
"""The lasting error follows the posture; its size is smoothed over about a step's duration."""


class DistanceTracker:
    """Kalman filter over depth and speed of the eyes (constant velocity, white acceleration).

    Errors of the pose drift slowly with posture, so a covariance that shrinks with every picture
    would lie: the measurement's own standard deviation is split into noise between pictures, which
    the filter averages, and the rest, which stays in what it reports however long it looks. So does
    the common one, of sizes and focal length, which is told apart.
    """

    def __init__(self) -> None:
        self._time_s = -math.inf
        self._seen_s = -math.inf
        self._z = self._v = 0.0
        self._pzz = self._pzv = self._pvv = 0.0
        self._lasting_m = 0.0
        self._common = 0.0
        self._jumps = 0
        self._agreeing = 0

    def forget(self) -> None:
        """Begin anew, as when another person is followed."""
        self._time_s = self._seen_s = -math.inf
        self._agreeing = 0

    def update(self, time_s: float, measured: BodyDistance | None) -> TrackedDistance | None:
        """The distance now, given this picture's measurement if there is one; None when lost.

        Times that stand still or go back are taken as no time passed.
        """
        if measured is not None and not (
            math.isfinite(measured.eyes_m) and math.isfinite(measured.eyes_sd_m)
        ):
            measured = None
        time_s = max(time_s, self._time_s)
        known = time_s - self._seen_s <= _LOST_AFTER_S
        if measured is None:
            if not known or self._agreeing < _CONFIRMED_BY:
                self.forget()
                return None
            self._predict(time_s)
            return self._report()
        own_m = math.sqrt(max(measured.eyes_sd_m**2 - measured.common_sd_m**2, 0.0))
        picture_m = measured.picture_sd_m
        if picture_m is None:
            picture_m = min(_FRAME_NOISE * measured.eyes_m, own_m)
        noise_m = max(picture_m, _LEAST_NOISE * measured.eyes_m)
        lasting_m = math.sqrt(max(own_m**2 - noise_m**2, 0.0))
        self._common = measured.common_sd_m / measured.eyes_m
        if not known:
            self._start(time_s, measured.eyes_m, noise_m, lasting_m)
            return self._report()
        elapsed_s = time_s - self._time_s
        self._predict(time_s)
        surprise = measured.eyes_m - self._z
        spread = self._pzz + noise_m**2
        if abs(surprise) > _GATE * math.sqrt(spread):
            self._jumps += 1
            if self._jumps <= _JUMPS_BELIEVED:
                return self._report()
            # It was not a slip of the detector: begin anew there, seen often enough already.
            self._start(time_s, measured.eyes_m, noise_m, lasting_m)
            self._agreeing = _CONFIRMED_BY
            return self._report()
        self._jumps = 0
        self._agreeing += 1
        self._seen_s = time_s
        # Doubt is believed sooner than confidence.
        pace_s = _STEADYING_S if lasting_m < self._lasting_m else _STEADYING_S / 3
        part = 1 - math.exp(-elapsed_s / pace_s)
        self._lasting_m += part * (lasting_m - self._lasting_m)
        gain_z, gain_v = self._pzz / spread, self._pzv / spread
        self._z += gain_z * surprise
        self._v += gain_v * surprise
        self._pvv -= gain_v * self._pzv
        self._pzv *= 1 - gain_z
        self._pzz *= 1 - gain_z
        return self._report()

    def _start(self, time_s: float, z_m: float, noise_m: float, lasting_m: float) -> None:
        self._time_s = self._seen_s = time_s
        self._z, self._v = z_m, 0.0
        self._pzz, self._pzv, self._pvv = noise_m**2, 0.0, 1.0
        self._lasting_m = lasting_m
        self._jumps = 0
        self._agreeing = 1

    def _predict(self, time_s: float) -> None:
        """Carry state and covariance forward: F P F^T + Q, acceleration constant within a step."""
        left = time_s - self._time_s
        while left > 0:
            # Acceleration changes within a long gap too: take it in steps.
            dt = min(left, _LONGEST_STEP_S)
            left -= dt
            q = _ACCELERATION_M_S2**2
            self._z += self._v * dt
            self._pzz += dt * (2 * self._pzv + dt * self._pvv) + q * dt**4 / 4
            self._pzv += dt * self._pvv + q * dt**3 / 2
            self._pvv += q * dt**2
        self._time_s = time_s

    def _report(self) -> TrackedDistance | None:
        if self._agreeing < _CONFIRMED_BY:
            return None
        eyes_m = max(self._z, 0.01)
        common_m = self._common * eyes_m
        return TrackedDistance(
            self._time_s,
            eyes_m,
            math.sqrt(common_m**2 + self._lasting_m**2 + self._pzz),
            self._v,
            self._time_s - self._seen_s,
            math.sqrt(self._pvv),
            self._pzv,
            common_m,
        )
