"""Quantities as a person reads them: in metres or feet, with the language's decimal mark."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.base import terms
from assist.base.words import Units, _, current
from assist.plan.plan import PlannedPerson
from optics.exposure import SHUTTER_TIMES
from optics.units import METRES_PER_FOOT, METRES_PER_INCH, metres_to_feet_and_inches

_TAPED_M: dict[Units, float] = {"metres": 0.01, "feet": METRES_PER_INCH / 2}


def number(figure: str) -> str:
    """A figure written with a point, as the language writes it."""
    return current().decimal(figure)


@dataclass(frozen=True)
class LengthFormat:
    """How lengths are written. Sizes on the sensor stay in millimetres in both systems."""

    units: Units = "metres"

    def length(self, metres: float) -> str:
        """A distance off a tape: `2.66 m` or `8' 8.7"`, finer when near, coarser when far."""
        if math.isinf(metres):
            return _("infinity")
        return number(_metric(metres) if self.units == "metres" else _feet_and_inches(metres))

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
            return _("no limit")
        if self.units == "metres":
            return number(f"{width_m:.2f} x {height_m:.2f} m")
        return f"{self.length(width_m)} x {self.length(height_m)}"


def _metric(metres: float) -> str:
    size = abs(metres)
    if size < 0.01:
        return f"{metres * 1000:.1f} mm"
    if size < 0.25:
        return f"{metres * 100:.1f} cm"
    return f"{metres:.{2 if size < 20 else 1 if size < 100 else 0}f} m"


def _feet_and_inches(metres: float) -> str:
    size = abs(metres)
    if size >= 100 * METRES_PER_FOOT:
        return f"{metres / METRES_PER_FOOT:.0f}'"
    if size < METRES_PER_FOOT:
        inches = metres / METRES_PER_INCH
        return f'{inches:.2g}"' if abs(inches) < 1 else f'{round(inches, 1):g}"'
    feet, inches = metres_to_feet_and_inches(metres)
    sign = "-" if metres < 0 else ""
    return f"{sign}{abs(feet)}' {inches:g}\""


def _assumed(value: str, is_assumed: bool) -> str:
    return _("{value} (assumed)", value=value) if is_assumed else value


def person(who: PlannedPerson, show: LengthFormat) -> str:
    """Who is planned for: `1.70 m, seated at 0.50 m (assumed)`."""
    stature = _assumed(show.length(who.stature_m), who.stature_is_assumed)
    if who.seat_height_m is None:
        return _assumed(_("{stature}, standing", stature=stature), who.posture_is_assumed)
    seat = _assumed(show.length(who.seat_height_m), who.seat_height_is_assumed)
    return _("{stature}, seated at {seat}", stature=stature, seat=seat)


def shot_size(name: str, who: PlannedPerson) -> str:
    """A shot size; what it holds of a seated person, where that is not what its name says."""
    if who.is_seated and name == "full body":
        return _("full body, feet and seat or wheels")
    if who.is_seated and name == "knees-up":
        return _("knees-up, knees in the picture")
    return terms.told(name)


def movement(name: str, who: PlannedPerson) -> str:
    """What the person does in the picture; who is seated neither stands nor walks."""
    if who.is_seated and name == "standing":
        return _("sitting still")
    if who.is_seated and name == "walking":
        return _("moving")
    return terms.told(name)


def millimetres(metres: float) -> str:
    """A length on the sensor: `0.029 mm`."""
    return number(f"{metres * 1e3:.3f} mm")


def percent(share: float) -> str:
    """A share: `0.08 %`, `3.1 %`, `24 %`."""
    return number(f"{share * 100:.{2 if abs(share) < 0.01 else 1 if abs(share) < 0.1 else 0}f} %")


def degrees(radians: float) -> str:
    """An angle: `4.2 deg`; the sign for it is not in every terminal's character set."""
    return _("{angle} deg", angle=current().figure(math.degrees(radians)))


def f_number(value: float) -> str:
    """An aperture: `f/5.6`."""
    return number(f"f/{value:.2g}" if value < 10 else f"f/{value:.0f}")


def f_number_set(value: float) -> str:
    """An aperture as it was given: `f/5.6`, `f/6.35`."""
    return number(f"f/{value:g}")


def focal_length(millimetres_: float) -> str:
    """A focal length: `50 mm`."""
    return number(f"{millimetres_:g} mm")


def shutter(label: str) -> str:
    """A shutter time off the dial: `1/60 s`."""
    return number(f"{label} s")


def seconds(time_s: float) -> str:
    """A duration: `0.8 s`, `12 s`."""
    return number(f"{time_s:.1f} s" if time_s < 10 else f"{time_s:.0f} s")


def delay(time_s: float) -> str:
    """A self-timer's delay: `10 s`."""
    return number(f"{time_s:g} s")


def shutter_time(time_s: float) -> str:
    """A shutter time that need not be on the dial: `1/137 s`, `2.3 s`."""
    return number(f"1/{1 / time_s:.0f} s" if time_s < 0.3 else f"{time_s:.1f} s")


def dial_time(time_s: float) -> str:
    """A shutter time by the nearest name on the dial: `1/60 s`."""
    return number(f"{SHUTTER_TIMES.nearest(time_s).label} s")


def iso(speed: float) -> str:
    """An ISO speed without its name: `400`."""
    return f"{speed:g}"


def exposure_value(ev100: float) -> str:
    """An exposure value without its sign: `9.33`."""
    return number(f"{ev100:.3g}")


def tilt(radians: float) -> str:
    """A tilt in words: `level`, `4.2 deg down`."""
    if abs(radians) < math.radians(0.05):
        return _("level")
    angle = degrees(abs(radians))
    return _("{angle} down", angle=angle) if radians > 0 else _("{angle} up", angle=angle)
