"""Time from pressing the release to being at the mark and still, against self-timer delays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from numpy.typing import ArrayLike

from optics.checks import positive, scalar_back
from optics.motion import WALKING

LEAVE_S = 1.0
"""From the press to the first step: let go of the camera, stand up. Common practice, no source."""

TURN_S = 1.5
"""Turn to face the camera at the mark. Common practice, no source."""

SEATED_SPEED_M_S = 0.43
"""Speed of who moves seated over some metres, starting and stopping included: the median of 29,200
short ways of users of manual wheelchairs, of 8.6 m at the median (Sonenblum and others 2012,
Rehabilitation Research and Practice, 753165; looked up). On longer ways 0.79 m/s on average
(Tolerico and others 2007, Journal of Rehabilitation Research and Development 44; looked up)."""

SEATED_TURN_S = 4.0
"""The turn, seated: half round on the spot. Common practice, no source."""

SETTLE_S = 2.0
"""Find the mark, hold still, look. Common practice, no source."""

SELF_TIMER_DELAYS_S = (2.0, 5.0, 10.0, 12.0, 20.0, 30.0)
"""Delays that cameras offer. Common practice, no source."""


def time_to_mark_s(
    path_m: ArrayLike,
    speed_m_s: float = WALKING.speed_m_s,
    leave_s: float = LEAVE_S,
    turn_s: float = TURN_S,
    settle_s: float = SETTLE_S,
) -> Any:
    """Leave, move forwards, turn, settle: seconds from the press to being ready."""
    path = positive("path", path_m)
    positive("speed", speed_m_s)
    return scalar_back(leave_s + path / speed_m_s + turn_s + settle_s)


@dataclass(frozen=True)
class TimerChoice:
    """One delay of the self-timer: time left over once settled, negative when it fires too soon."""

    delay_s: float
    to_spare_s: float


def timer_choices(
    needed_s: float, delays_s: tuple[float, ...] = SELF_TIMER_DELAYS_S
) -> tuple[TimerChoice, ...]:
    """Every delay with what it leaves to spare."""
    return tuple(TimerChoice(delay, delay - needed_s) for delay in delays_s)
