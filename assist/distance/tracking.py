"""Distance over time: a causal filter that smooths, rejects jumps and bridges short losses."""

from __future__ import annotations

import math

from assist.distance import BodyDistance, TrackedDistance

_ACCELERATION_M_S2 = 1.5
"""Spread of a walking person's acceleration towards or away from the camera."""
_FRAME_NOISE = 0.012
"""Relative noise from picture to picture, the part of the error that averaging does remove."""
_GATE = 4.0
_JUMPS_BELIEVED = 5
_LOST_AFTER_S = 0.5


class DistanceTracker:
    """Kalman filter over depth and speed of the eyes (constant velocity, white acceleration).

    Errors of the pose drift slowly with posture, so a covariance that shrinks with every picture
    would lie: the standard deviation reported is never below that of the measurements themselves.
    """

    def __init__(self) -> None:
        self._time_s = -math.inf
        self._seen_s = -math.inf
        self._z = self._v = 0.0
        self._pzz = self._pzv = self._pvv = 0.0
        self._floor_m = 0.0
        self._jumps = 0

    def _start(self, time_s: float, z_m: float, noise_m: float, floor_m: float) -> None:
        self._time_s = self._seen_s = time_s
        self._z, self._v = z_m, 0.0
        self._pzz, self._pzv, self._pvv = noise_m**2, 0.0, 1.0
        self._floor_m = floor_m
        self._jumps = 0

    def _predict(self, time_s: float) -> None:
        dt = max(0.0, time_s - self._time_s)
        q = _ACCELERATION_M_S2**2
        self._z += self._v * dt
        self._pzz += dt * (2 * self._pzv + dt * self._pvv) + q * dt**4 / 4
        self._pzv += dt * self._pvv + q * dt**3 / 2
        self._pvv += q * dt**2
        self._time_s = time_s

    def update(self, time_s: float, measured: BodyDistance | None) -> TrackedDistance | None:
        """The distance now, given this picture's measurement if there is one; None when lost."""
        known = time_s - self._seen_s <= _LOST_AFTER_S
        if measured is None:
            if not known:
                return None
            self._predict(time_s)
            return self._report()
        noise_m = _FRAME_NOISE * measured.eyes_m
        if not known:
            self._start(time_s, measured.eyes_m, noise_m, measured.eyes_sd_m)
            return self._report()
        self._predict(time_s)
        surprise = measured.eyes_m - self._z
        spread = self._pzz + noise_m**2
        if abs(surprise) > _GATE * math.sqrt(spread) and self._jumps < _JUMPS_BELIEVED:
            self._jumps += 1
            return self._report()
        if self._jumps >= _JUMPS_BELIEVED:  # it was not a slip of the detector: begin anew there
            self._start(time_s, measured.eyes_m, noise_m, measured.eyes_sd_m)
            return self._report()
        self._jumps = 0
        self._seen_s = time_s
        self._floor_m = measured.eyes_sd_m
        gain_z, gain_v = self._pzz / spread, self._pzv / spread
        self._z += gain_z * surprise
        self._v += gain_v * surprise
        self._pvv -= gain_v * self._pzv
        self._pzv *= 1 - gain_z
        self._pzz *= 1 - gain_z
        return self._report()

    def _report(self) -> TrackedDistance:
        return TrackedDistance(
            self._time_s,
            self._z,
            math.sqrt(self._floor_m**2 + self._pzz),
            self._v,
            self._time_s - self._seen_s,
        )
