"""Numbers with units, as people type them: `50mm`, `f/5.6`, `3m`, `10ft`, `10'6"`, `1/50`.

Each `parse_*` takes text or a bare number (in the unit that its docstring names) and returns a
float, or raises ValueError saying which forms are accepted. Decimal commas are accepted too.
"""

from __future__ import annotations

import math
import re

from assist.base.errors import shown
from assist.base.words import N_, _
from optics.units import METRES_PER_FOOT, METRES_PER_INCH

_NUMBER = r"([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[-+]?\d+)?)"
_LENGTH_UNITS_M = {
    "mm": 1e-3,
    "cm": 1e-2,
    "m": 1.0,
    "km": 1e3,
    "µm": 1e-6,
    "um": 1e-6,
    "in": METRES_PER_INCH,
    "inch": METRES_PER_INCH,
    "inches": METRES_PER_INCH,
    '"': METRES_PER_INCH,
    "ft": METRES_PER_FOOT,
    "foot": METRES_PER_FOOT,
    "feet": METRES_PER_FOOT,
    "'": METRES_PER_FOOT,
}
_WITH_UNIT = re.compile(rf"^{_NUMBER}\s*([^\d\s.,+-]*)$", re.IGNORECASE)
# A dash between feet and inches is how many people write them; it is no sign.
_FEET_INCHES = re.compile(
    r"^([-+]?)(\d+(?:[.,]\d*)?)\s*(?:'|ft\.?|feet|foot)\s*(?:[-–,]|and)?\s*"
    r"(\d+(?:[.,]\d*)?|[.,]\d+)?(?:\s*(\d{1,3})/(\d{1,3}))?\s*(?:\"|''|in\.?|inch|inches)?$",
    re.IGNORECASE,
)
_INCHES = re.compile(
    r"^([-+]?)()(\d+)\s+(\d{1,3})/(\d{1,3})\s*(?:\"|''|in\.?|inch|inches)$", re.IGNORECASE
)
_INCHES_IN_A_FOOT = 12
_BETWEEN_LENGTHS = re.compile(r";|,(?!\d)|(?<!\d),")
_METRES_CENTIMETRES = re.compile(r"^([-+]?)(\d+)\s*m\s*(\d{2})\s*(?:cm)?$", re.IGNORECASE)
"""As statures are written in many countries: 1m70."""
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_F_NUMBER = re.compile(rf"^(?:f\s*/?\s*)?{_NUMBER}$", re.IGNORECASE)
_FRACTION = re.compile(rf"^{_NUMBER}\s*/\s*{_NUMBER}\s*(?:s|sec|seconds?)?$", re.IGNORECASE)
_ISO = re.compile(rf"^(?:iso\s*)?{_NUMBER}$", re.IGNORECASE)
_EXPOSURE_VALUE = re.compile(rf"^(?:ev\s*)?{_NUMBER}\s*(?:ev)?$", re.IGNORECASE)
_SECONDS_UNITS = {"": 1.0, "s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "ms": 1e-3}
_DEGREE_UNITS = {"": 1.0, "°": 1.0, "deg": 1.0, "degrees": 1.0}
_SHARE_UNITS = {"": 1.0, "%": 0.01, "percent": 0.01}
_INFINITY = {"inf", "infinity", "∞"}

# The forms that a value may have, for the message about one that has none of them.
_LENGTHS = N_("3 m, 300 cm, 3000 mm, 10 ft, 10'6\"")
_LENGTHS_OR_INFINITY = N_("3 m, 300 cm, 3000 mm, 10 ft, 10'6\" or inf")
_SEVERAL_LENGTHS = N_("1.70m, 1.82m")
_FOCAL_LENGTHS = N_("50 or 50mm")
_F_NUMBERS = N_("5.6 or f/5.6")
_SECONDS = N_("1/50, 0.02 or 2s")
_ANGLES = N_("12 or 12deg")
_ISO_SPEEDS = N_("400 or ISO 400")
_EXPOSURE_VALUES = N_("9 or EV 9")
_METERED = N_('"f/5.6 1/60 ISO 400"')
_SHARES = N_("8% or 0.08")


def _tidy(value: object) -> str:
    text = str(value).strip()
    return text.replace("’", "'").replace("′", "'").replace("”", '"').replace("″", '"')


def _float(text: str) -> float:
    number = float(text.replace(",", "."))
    if not math.isfinite(number):
        raise ValueError(_("{value} is not a finite number", value=shown(text)))
    return number


def _wrong(forms: str, value: object) -> ValueError:
    """The value has none of the forms."""
    return ValueError(_("write it as {forms}, not {value}", forms=_(forms), value=shown(value)))


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _with_unit(value: object, units: dict[str, float], forms: str) -> float:
    match = _WITH_UNIT.match(_tidy(value))
    factor = units.get(match[2].lower()) if match else None
    if match is None or factor is None:
        raise _wrong(forms, value)
    return _float(match[1]) * factor


def parse_length_m(value: object, default_unit: str = "m", *, infinity: bool = False) -> float:
    """Metres; a bare number is in `default_unit`. `inf` where `infinity` allows it.

    >>> round(parse_length_m("10ft 6in"), 4)
    3.2004
    """
    forms = _LENGTHS_OR_INFINITY if infinity else _LENGTHS
    text = _tidy(value)
    if infinity and text.lower() in _INFINITY:
        return math.inf
    if _is_number(value):
        if not math.isfinite(float(text)):
            raise _wrong(forms, value)
        return float(text) * _LENGTH_UNITS_M[default_unit]
    in_parts = _in_parts(text, value, forms)
    if in_parts is not None:
        return in_parts
    return _with_unit(value, {**_LENGTH_UNITS_M, "": _LENGTH_UNITS_M[default_unit]}, forms)


def parse_lengths_m(value: object) -> tuple[float, ...]:
    """Metres of several lengths, as a list or as text with commas or semicolons between.

    A comma right between two figures is a decimal one.

    >>> parse_lengths_m("1.70m, 182 cm; 1,65")
    (1.7, 1.82, 1.65)
    """
    if isinstance(value, str):
        return tuple(parse_length_m(part) for part in _BETWEEN_LENGTHS.split(value))
    if not isinstance(value, (list, tuple)):
        raise _wrong(_SEVERAL_LENGTHS, value)
    return tuple(parse_length_m(part) for part in value)


def _in_parts(text: str, value: object, forms: str) -> float | None:
    """Metres of a length in feet and inches, or in metres and centimetres; None of any other."""
    metric = _METRES_CENTIMETRES.match(text)
    if metric:
        length_m = _float(metric[2]) + int(metric[3]) / 100
        return -length_m if metric[1] == "-" else length_m
    for sign, fraction in _FRACTIONS.items():
        text = text.replace(sign, f" {fraction}")
    both = _FEET_INCHES.match(text) or _INCHES.match(text)
    if both is None or (both[3] is None and both[4] is None):
        return None
    inches, told = _float(both[3] or "0"), both[3] or "0"
    if both[4] is not None:
        above, below = int(both[4]), int(both[5])
        if not 0 < above < below or not told.isdigit():
            raise _wrong(forms, value)
        inches, told = inches + above / below, f"{told} {both[4]}/{both[5]}"
    feet = both[2]
    if feet and not feet.isdigit():
        raise _wrong(forms, value)  # half a foot and inches besides
    if feet and inches >= _INCHES_IN_A_FOOT:
        raise ValueError(
            _("{value} has {inches} inches, and a foot has 12", value=shown(value), inches=told)
        )
    length_m = _float(feet or "0") * METRES_PER_FOOT + inches * METRES_PER_INCH
    return -length_m if both[1] == "-" else length_m


def bare_number(value: object) -> float | None:
    """The finite number in a text that has no unit; None in any other."""
    match = _WITH_UNIT.match(_tidy(value))
    if match is None or match[2]:
        return None
    number = float(match[1].replace(",", "."))
    return number if math.isfinite(number) else None


def parse_focal_length_mm(value: object) -> float:
    """Millimetres; a bare number is millimetres."""
    if _is_number(value):
        return _float(str(value))
    return _with_unit(value, {"": 1.0, "mm": 1.0, "cm": 10.0, "m": 1e3}, _FOCAL_LENGTHS)


def parse_f_number(value: object) -> float:
    """The f-number from `5.6`, `f/5.6`, `f5.6` or `F 5.6`."""
    match = _F_NUMBER.match(_tidy(value))
    if not match:
        raise _wrong(_F_NUMBERS, value)
    return _float(match[1])


def parse_seconds(value: object) -> float:
    """Seconds from `0.02`, `1/50`, `1/50 s`, `20ms`, `2"`."""
    fraction = _FRACTION.match(_tidy(value))
    if fraction:
        below = _float(fraction[2])
        if below == 0:
            raise _wrong(_SECONDS, value)
        return _float(fraction[1]) / below
    return _with_unit(value, _SECONDS_UNITS, _SECONDS)


def parse_angle_deg(value: object) -> float:
    """Degrees from `12`, `12°`, `12 deg`."""
    return _with_unit(value, _DEGREE_UNITS, _ANGLES)


def parse_iso(value: object) -> float:
    """ISO speed from `400`, `ISO 400`, `iso400`."""
    match = _ISO.match(_tidy(value))
    if not match:
        raise _wrong(_ISO_SPEEDS, value)
    return _float(match[1])


def parse_exposure_value(value: object) -> float:
    """Exposure value at ISO 100 from `9`, `EV 9`, `9.3 EV`; may be negative."""
    match = _EXPOSURE_VALUE.match(_tidy(value))
    if not match:
        raise _wrong(_EXPOSURE_VALUES, value)
    return _float(match[1])


def parse_metered_exposure(value: object) -> tuple[float, float, float]:
    """F-number, seconds and ISO speed from `f/5.6 1/60 ISO 400` (commas allowed between).

    >>> parse_metered_exposure("f/5.6, 1/50, ISO 400")
    (5.6, 0.02, 400.0)
    """
    parts = re.match(
        r"^\s*(f\s*/?\s*[\d.]+)[\s,]+([\d./]+\s*[a-z\"]*)[\s,]+iso\s*([\d.]+)\s*$",
        _tidy(value),
        re.IGNORECASE,
    )
    if not parts:
        raise _wrong(_METERED, value)
    try:
        return parse_f_number(parts[1]), parse_seconds(parts[2]), parse_iso(parts[3])
    except ValueError as error:
        wrong = _wrong(_METERED, value)
        raise ValueError(_("{wrong} ({why})", wrong=wrong, why=error)) from error


def parse_share(value: object) -> float:
    """A part of one, from `8%` or `0.08`."""
    return _with_unit(value, _SHARE_UNITS, _SHARES)
