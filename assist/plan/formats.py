"""Numbers as a person reads them, in metres or feet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from assist.plan.plan import PlannedPerson
from optics.exposure import SHUTTER_TIMES
from optics.units import METRES_PER_FOOT, METRES_PER_INCH, metres_to_feet_and_inches

Units = Literal["metres", "feet"]

_TAPED_M: dict[Units, float] = {"metres": 0.01, "feet": METRES_PER_INCH / 2}


@dataclass(frozen=True)
class LengthFormat:
    """How lengths are written. Sizes on the sensor stay in millimetres in both systems."""

    units: Units = "metres"

    def length(self, metres: float) -> str:
        """A distance off a tape: `2.66 m` or `8' 8.7"`, finer when near, coarser when far."""
        if math.isinf(metres):
            return "infinity"
        size = abs(metres)
        if self.units == "metres":
            return _metric(metres)
        if size >= 100 * METRES_PER_FOOT:
            return f"{metres / METRES_PER_FOOT:.0f}'"
        if size < METRES_PER_FOOT:
            inches = metres / METRES_PER_INCH
            return f'{inches:.2g}"' if abs(inches) < 1 else f'{round(inches, 1):g}"'
        feet, inches = metres_to_feet_and_inches(metres)
        sign = "-" if metres < 0 else ""
        return f"{sign}{abs(feet)}' {inches:g}\""

    def rounded_up_m(self, metres: float) -> float:
        """A least distance as it can be taped: the next centimetre or half inch up."""
        if math.isinf(metres):
            return metres
        step_m = _TAPED_M[self.units]
        return float(f"{math.ceil(metres / step_m - 1e-6) * step_m:.9g}")

    def least(self, metres: float) -> str:
        """A least distance, rounded up: what is read off here is enough."""
        return self.length(self.rounded_up_m(metres))

    def size(self, width_m: float, height_m: float) -> str:
        """A rectangle: `2.13 x 1.42 m`."""
        if math.isinf(width_m):
            return "no limit"
        if self.units == "metres":
            return f"{width_m:.2f} x {height_m:.2f} m"
        return f"{self.length(width_m)} x {self.length(height_m)}"


def _metric(metres: float) -> str:
    size = abs(metres)
    if size < 0.01:
        return f"{metres * 1000:.1f} mm"
    if size < 0.25:
        return f"{metres * 100:.1f} cm"
    return f"{metres:.{2 if size < 20 else 1 if size < 100 else 0}f} m"


def person(who: PlannedPerson, show: LengthFormat) -> str:
    """Who is planned for: `1.70 m, seated at 0.50 m (assumed)`."""
    stature = show.length(who.stature_m) + (" (assumed)" if who.stature_is_assumed else "")
    if who.seat_height_m is None:
        return stature + ", standing" + (" (assumed)" if who.posture_is_assumed else "")
    seat = show.length(who.seat_height_m) + (" (assumed)" if who.seat_height_is_assumed else "")
    return f"{stature}, seated at {seat}"


_SEATED_SIZES = {
    "full body": "full body, feet and seat or wheels",
    "knees-up": "knees-up, knees in the picture",
}
_SEATED_MOVEMENTS = {"standing": "sitting still", "walking": "moving"}


def shot_size(name: str, who: PlannedPerson) -> str:
    """A shot size; what it holds of who sits, where that is not what its name says."""
    return _SEATED_SIZES.get(name, name) if who.is_seated else name


def movement(name: str, who: PlannedPerson) -> str:
    """What the person does in the picture; who sits neither stands nor walks."""
    return _SEATED_MOVEMENTS.get(name, name) if who.is_seated else name


def millimetres(metres: float) -> str:
    """A length on the sensor: `0.029 mm`."""
    return f"{metres * 1e3:.3f} mm"


def percent(share: float) -> str:
    """A share: `0.08 %`, `3.1 %`, `24 %`."""
    return f"{share * 100:.{2 if abs(share) < 0.01 else 1 if abs(share) < 0.1 else 0}f} %"


def degrees(radians: float) -> str:
    """An angle: `4.2 deg`; the sign for it is not in every terminal's character set."""
    return f"{math.degrees(radians):.1f} deg"


def f_number(number: float) -> str:
    """An aperture: `f/5.6`."""
    return f"f/{number:.2g}" if number < 10 else f"f/{number:.0f}"


def shutter(label: str) -> str:
    """A shutter time off the dial: `1/60 s`."""
    return f"{label} s"


def seconds(time_s: float) -> str:
    """A duration: `0.8 s`, `12 s`."""
    return f"{time_s:.1f} s" if time_s < 10 else f"{time_s:.0f} s"


def shutter_time(time_s: float) -> str:
    """A shutter time that need not be on the dial: `1/137 s`, `2.3 s`."""
    return f"1/{1 / time_s:.0f} s" if time_s < 0.3 else f"{time_s:.1f} s"


def dial_time(time_s: float) -> str:
    """A shutter time by the nearest name on the dial: `1/60 s`."""
    return f"{SHUTTER_TIMES.nearest(time_s).label} s"


def tilt(radians: float) -> str:
    """A tilt in words: `level`, `4.2 deg down`."""
    if abs(radians) < math.radians(0.05):
        return "level"
    return f"{degrees(abs(radians))} {'down' if radians > 0 else 'up'}"
