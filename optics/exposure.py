"""Exposure in stops: the additive system, and the series of nominal values on cameras.

Ev = Av + Tv = Bv + Sv, Av = 2 log2 N, Tv = -log2 t, Sv = log2(S / 3.125): the additive system of
photographic exposure (APEX), given in the Exif standard, CIPA DC-008, annex C (from memory).
"Exposure value" (ev100) here is what a meter shows for ISO 100, where Sv = 5.

A camera's dial says 1/60 and f/5.6 and sets 2^-6 s and 2^2.5: `Series` keeps both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optics.checks import positive, scalar_back
from optics.errors import ImpossibleValueError

SPEED_AT_ZERO = 3.125
"""ISO speed whose speed value is 0; ISO 100 has 5."""


def aperture_value(f_number: ArrayLike) -> Any:
    """Av = 2 log2 N, stops; 0 at f/1."""
    return scalar_back(2.0 * np.log2(positive("f-number", f_number)))


def time_value(shutter_s: ArrayLike) -> Any:
    """Tv = -log2 t, stops; 0 at 1 s."""
    return scalar_back(-np.log2(positive("shutter time", shutter_s)))


def speed_value(iso: ArrayLike) -> Any:
    """Sv = log2(S / 3.125), stops; 5 at ISO 100."""
    return scalar_back(np.log2(positive("ISO speed", iso) / SPEED_AT_ZERO))


def exposure_value_100(f_number: ArrayLike, shutter_s: ArrayLike, iso: ArrayLike) -> Any:
    """The light that this exposure is right for, as the exposure value at ISO 100."""
    av, tv = np.asarray(aperture_value(f_number)), np.asarray(time_value(shutter_s))
    return scalar_back(av + tv - (np.asarray(speed_value(iso)) - speed_value(100.0)))


def shutter_s(ev100: ArrayLike, f_number: ArrayLike, iso: ArrayLike) -> Any:
    """Shutter time that exposes rightly, seconds: N^2 / 2^Ev, Ev counted at the given speed."""
    ev = np.asarray(ev100, dtype=np.float64) + speed_value(iso) - speed_value(100.0)
    return scalar_back(positive("f-number", f_number) ** 2 / np.exp2(ev))


def iso_speed(ev100: ArrayLike, f_number: ArrayLike, shutter_time_s: ArrayLike) -> Any:
    """ISO speed that exposes rightly: the inverse of `shutter_s`."""
    stops = (
        np.asarray(aperture_value(f_number))
        + np.asarray(time_value(shutter_time_s))
        - np.asarray(ev100, dtype=np.float64)
    )
    return scalar_back(100.0 * np.exp2(stops))


def stops_between(f_number: ArrayLike, other_f_number: ArrayLike) -> Any:
    """Light lost in stops when going from the first aperture to the other; negative when gained."""
    return scalar_back(
        np.asarray(aperture_value(other_f_number)) - np.asarray(aperture_value(f_number))
    )


@dataclass(frozen=True)
class Setting:
    """One position of a dial: its number of thirds of a stop, exact value and name."""

    thirds: int
    exact: float
    nominal: float
    label: str


# Sources: f-numbers ISO 517, exposure times ISO 516, speeds ISO 12232 (all from memory); the thirds
# of a stop between the standards' values, common practice, no source.
_F_NUMBERS = """
1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22 25 29 32
36 40 45
"""
_TIMES = """
30 25 20 15 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 0.8 0.6 1/2 0.4 0.3 1/4 1/5 1/6 1/8 1/10 1/13 1/15
1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200 1/250 1/320 1/400 1/500 1/640 1/800
1/1000 1/1250 1/1600 1/2000 1/2500 1/3200 1/4000 1/5000 1/6400 1/8000
"""
_SPEEDS = """
50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 5000 6400 8000
10000 12800 16000 20000 25600 32000 40000 51200 64000 80000 102400
"""


class Series:
    """The nominal values of one dial in thirds of a stop, in the order of `thirds`."""

    def __init__(
        self, quantity: str, names: str, first_third: int, base: float, stops: float
    ) -> None:
        """`base` is the value at third 0; one stop multiplies it by 2 to the power `stops`."""
        self.quantity = quantity
        self._settings = tuple(
            Setting(third, base * 2.0 ** (stops * third / 3.0), _value(name), name)
            for third, name in enumerate(names.split(), first_third)
        )

    def __iter__(self) -> Iterator[Setting]:
        return iter(self._settings)

    def __len__(self) -> int:
        return len(self._settings)

    @property
    def first(self) -> Setting:
        """The setting with the least thirds."""
        return self._settings[0]

    @property
    def last(self) -> Setting:
        """The setting with the most thirds."""
        return self._settings[-1]

    @property
    def full_stops(self) -> tuple[Setting, ...]:
        """Every third setting, counted from the base value."""
        return tuple(x for x in self._settings if x.thirds % 3 == 0)

    def at(self, thirds: int) -> Setting:
        """The setting at so many thirds of a stop; ImpossibleValueError off the dial's ends."""
        index = thirds - self._settings[0].thirds
        if not 0 <= index < len(self._settings):
            raise ImpossibleValueError(
                "{quantity} runs from {first} to {last}: no setting beyond it",
                quantity=self.quantity,
                first=self._settings[0].label,
                last=self._settings[-1].label,
            )
        return self._settings[index]

    def nearest(self, value: float) -> Setting:
        """The setting whose nominal value is nearest in stops: 5.6 gives the dial's 5.6."""
        positive(self.quantity, value)
        return min(self._settings, key=lambda x: abs(math.log(x.nominal / value)))

    def at_most(self, value: float) -> Setting:
        """The largest setting whose nominal value is not above a value, for a ceiling."""
        positive(self.quantity, value)
        under = [x for x in self._settings if x.nominal <= value * (1 + 1e-9)]
        if not under:
            least = min(self._settings, key=lambda x: x.nominal)
            raise ImpossibleValueError(
                "{quantity} starts at {least}: {value:g} is below it",
                quantity=self.quantity,
                least=least.label,
                value=value,
            )
        return max(under, key=lambda x: x.nominal)

    def label_of(self, value: float) -> str | None:
        """Name of the setting nearest to a value, None when it is a third or more off the dial."""
        setting = self.nearest(value)
        third_off = abs(math.log2(setting.exact / value)) > 1.0 / 3.0
        return None if third_off else setting.label

    def largest_within(self, longest: float) -> Setting | None:
        """The largest setting that is not above a value; None when all are."""
        within = [x for x in self._settings if x.exact <= longest]
        return max(within, key=lambda x: x.exact) if within else None


def _value(name: str) -> float:
    above, _, below = name.partition("/")
    return float(above) / float(below) if below else float(above)


APERTURES = Series("aperture", _F_NUMBERS, 0, 1.0, 0.5)
"""f/1 to f/45; thirds counted from f/1, so `thirds / 3` is Av."""

SHUTTER_TIMES = Series("shutter time", _TIMES, -15, 1.0, -1.0)
"""30 s to 1/8000 s; thirds counted from 1 s, so `thirds / 3` is Tv."""

SPEEDS = Series("ISO speed", _SPEEDS, -3, 100.0, 1.0)
"""ISO 50 to 102400; thirds counted from ISO 100, so `thirds / 3` is Sv - 5."""


@dataclass(frozen=True)
class Exposure:
    """An aperture, a shutter time and an ISO speed as the dials show them."""

    aperture: Setting
    shutter: Setting
    speed: Setting


def thirds_of_stops(ev100: float) -> int:
    """An exposure value in whole thirds, rounded to the darker side: no picture is too dark."""
    return math.floor(ev100 * 3.0 + 1e-9)


def pairs(ev100: float, f_number: float) -> tuple[Exposure, ...]:
    """Every shutter time with the ISO speed that exposes rightly at this aperture, slowest first.

    On the dials' own thirds of a stop: Tv = Ev + (Sv - 5) - Av, exactly.
    """
    aperture = APERTURES.nearest(f_number)
    found = []
    for speed in SPEEDS:
        time_thirds = thirds_of_stops(ev100) + speed.thirds - aperture.thirds
        try:
            found.append(Exposure(aperture, SHUTTER_TIMES.at(time_thirds), speed))
        except ImpossibleValueError:
            continue  # this speed would need a time that no dial has
    return tuple(found)
