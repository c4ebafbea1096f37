"""How far the body's distance is off, as the face last told it, while the face is not looked at."""

from __future__ import annotations

import math

_MEMORY_S = 1.0
"""Posture, and the error that goes with it, changes over about a step's time."""


class BodyError:
    """The logarithm of the body's distance over the face's: an Ornstein-Uhlenbeck process.

    The face is looked for in some of the pictures only, and hides now and then. In between, the
    body carries on from where the face left it: right after, as sure as the face; after a second
    or two, no surer than the body is by itself.
    """

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Begin anew, as with another person."""
        self._log = self._sd = 0.0
        self._told_s = -math.inf

    def tell(self, time_s: float, body_m: float, face_m: float, face_sd: float) -> None:
        """Both distances of one picture; `face_sd` relative."""
        self._log, self._sd, self._told_s = math.log(face_m / body_m), face_sd, time_s

    def at(self, time_s: float, body_sd: float) -> tuple[float, float] | None:
        """Factor on the body's distance and its relative standard deviation; None: nothing told.

        body_sd: relative standard deviation of the body's distance by itself.
        """
        kept = math.exp(-max(time_s - self._told_s, 0.0) / _MEMORY_S)
        if kept < 0.05:
            return None
        variance = (kept * self._sd) ** 2 + (1 - kept**2) * body_sd**2
        return math.exp(kept * self._log), math.sqrt(variance)
