"""The words of one language, and how it writes and says numbers and lengths."""

from __future__ import annotations

import math
from typing import Literal

from assist.base.words.languages import translations
from optics.units import METRES_PER_FOOT, METRES_PER_INCH

Units = Literal["metres", "feet"]

_A_LITTLE_M = 0.075
_LEAST_SHOWN_M = 0.05
"""Below this a length said in numbers would only be noise in the measurement."""


class Words:
    """Messages in one language, with lengths in metres or in feet.

    Raises UserError for a language without a catalogue.
    """

    def __init__(self, language: str = "en", units: Units = "metres") -> None:
        self.language = language
        self.units: Units = units
        self._translations = translations(language)

    def __reduce__(self) -> tuple[type[Words], tuple[str, Units]]:
        return Words, (self.language, self.units)

    # -- messages -----------------------------------------------------------------------------

    def gettext(self, message: str, **values: object) -> str:
        """The message, its {placeholders} filled in."""
        found = self._translations.gettext(message) if message else ""
        return found.format(**values) if values else found

    def ngettext(self, one: str, many: str, n: int, **values: object) -> str:
        """The singular or plural message for a count, told as {n}."""
        return self._translations.ngettext(one, many, n).format(n=n, **values)

    def pgettext(self, context: str, message: str, **values: object) -> str:
        """The message that has this meaning in this context."""
        found = self._translations.pgettext(context, message)
        return found.format(**values) if values else found

    # -- numbers ------------------------------------------------------------------------------

    def decimal(self, figure: str) -> str:
        """A figure written with a point, with the language's decimal mark."""
        return figure.replace(".", self.pgettext("decimal mark", "."))

    def figure(self, value: float, decimals: int = 1) -> str:
        """A number by itself, with the language's decimal mark."""
        return self.decimal(f"{value:.{decimals}f}")

    # -- lengths ------------------------------------------------------------------------------

    @property
    def unit(self) -> str:
        """The sign of the unit that lengths are told in."""
        return self.pgettext("unit", "ft") if self.units == "feet" else self.pgettext("unit", "m")

    def number(self, metres: float, decimals: int = 1) -> str:
        """A length's figure alone, in the units in use; infinity as its sign.

        `decimals` are those of metres. Feet, a third of a metre, never need more than one.
        """
        if math.isinf(metres):
            return "∞"
        if self.units == "feet":
            metres, decimals = metres / METRES_PER_FOOT, min(decimals, 1)
        return self.figure(metres, decimals)

    def length(self, metres: float, decimals: int = 1) -> str:
        """A length for the eye: "0.4 m"."""
        return f"{self.number(metres, decimals)} {self.unit}"

    def short_length(self, metres: float) -> str:
        """A length of a hand's breadth or so for the eye, whatever its sign: "3 cm", "1 in"."""
        if self.units == "feet":
            step_m, unit = METRES_PER_INCH, self.pgettext("unit", "in")
        else:
            step_m, unit = 0.01, self.pgettext("unit", "cm")
        return f"{max(1, round(abs(metres) / step_m))} {unit}"

    def short_length_aloud(self, metres: float) -> str:
        """The same for the ear."""
        if self.units == "feet":
            return self.ngettext("one inch", "{n} inches", max(1, round(metres / METRES_PER_INCH)))
        return self.ngettext("one centimetre", "{n} centimetres", max(1, round(metres * 100)))

    def length_to_go(self, metres: float) -> str:
        """The length of a way to go, whatever its sign: "0.4 m", or "a little" for "0.0 m"."""
        if abs(metres) < _LEAST_SHOWN_M:
            return self.gettext("a little")
        return self.length(abs(metres))

    def spoken_length(self, metres: float) -> str:
        """A length for the ear, as people say it: "half a metre", "one and a half metres".

        Rounded to 0.1 m below 1 m and to 0.5 m above it, or to half feet. Sign is dropped.
        """
        _ = self.gettext
        metres, feet = abs(metres), self.units == "feet"
        tenths = round(metres * 10)
        if metres < _A_LITTLE_M:
            return _("a little")
        if not feet and tenths < 10 and tenths != 5:
            return _("{n} centimetres", n=tenths * 10)
        value = metres / METRES_PER_FOOT if feet else metres
        whole, half = divmod(max(1, math.floor(2 * value + 0.5)), 2)
        if (whole, half) == (0, 1):
            return _("half a foot") if feet else _("half a metre")
        if (whole, half) == (1, 0):
            return _("one foot") if feet else _("one metre")
        return self._more_than_one(whole, bool(half), feet)

    def _more_than_one(self, whole: int, half: bool, feet: bool) -> str:
        _ = self.gettext
        if whole == 1:
            return _("one and a half feet") if feet else _("one and a half metres")
        n = self._counted(whole)
        if half:
            return _("{n} and a half feet", n=n) if feet else _("{n} and a half metres", n=n)
        return _("{n} feet", n=n) if feet else _("{n} metres", n=n)

    def _counted(self, number: int) -> str:
        """The number, 2 or more, in words as far as people say it so."""
        _ = self.gettext
        words = (
            _("two"), _("three"), _("four"), _("five"), _("six"), _("seven"), _("eight"),
            _("nine"), _("ten"), _("eleven"), _("twelve"),
        )  # fmt: skip
        return words[number - 2] if number - 2 < len(words) else str(number)
