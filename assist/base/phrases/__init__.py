"""Every word shown, said or sent comes from a table, one a language, so that it can be translated.

The tables are the `*.toml` files in this folder; adding one adds a language.
"""

from __future__ import annotations

import locale
import math
import os
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import tomlkit

from assist.base.errors import UserError
from optics.units import METRES_PER_FOOT

Units = Literal["metres", "feet"]

_FOLDER = Path(__file__).resolve().parent
_A_LITTLE_M = 0.075
_LEAST_SHOWN_M = 0.05
"""Below this a length said in numbers would only be noise in the measurement."""


def languages() -> tuple[str, ...]:
    """Codes (ISO 639-1) of the languages that there is a table for; "en" is always one."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.toml")))


def language_of_locale(environment: Mapping[str, str] = os.environ) -> str:
    """The user's language as far as there is a table for it, else "en".

    The environment's variables are looked at in POSIX order (LC_ALL, LC_MESSAGES, LANG); where none
    is set, as on Windows, Python's own idea of the locale counts.
    """
    names = [
        environment[name] for name in ("LC_ALL", "LC_MESSAGES", "LANG") if environment.get(name)
    ]
    own = locale.getlocale()[0]
    if not names and own:
        names = [locale.normalize(own.split("_")[0])]  # Windows says "German_Germany"
    code = names[0].replace("-", "_").split("_")[0].split(".")[0].lower() if names else "en"
    return code if code in languages() else "en"


@lru_cache
def _table(language: str) -> dict[str, Any]:
    text = (_FOLDER / f"{language}.toml").read_text(encoding="utf-8")
    return _flat(tomlkit.parse(text).unwrap())


def _flat(table: dict[str, Any], before: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, value in table.items():
        if isinstance(value, dict):
            flat.update(_flat(value, f"{before}{name}."))
        else:
            flat[before + name] = value
    return flat


class Phrases:
    """The phrases of one language, with lengths in metres or in feet."""

    def __init__(self, language: str, table: Mapping[str, Any], units: Units = "metres") -> None:
        self.language = language
        self.units: Units = units
        self._table = table

    @classmethod
    def load(cls, language: str = "en", units: Units = "metres") -> Phrases:
        """The phrases of a language by its code; UserError if there is no table for it."""
        if language not in languages():
            raise UserError(f"no phrases in language {language!r}: use {' or '.join(languages())}")
        return cls(language, _table(language), units)

    def text(self, key: str, **values: object) -> str:
        """The phrase of that key, such as "action.hold", with its {placeholders} filled in.

        Raises KeyError for a key that the table lacks.
        """
        return str(self._table[key]).format(**values) if values else str(self._table[key])

    def group(self, prefix: str) -> dict[str, str]:
        """All phrases whose key starts with `prefix` and a dot, by the rest of their key."""
        start = f"{prefix}."
        return {k[len(start) :]: str(v) for k, v in self._table.items() if k.startswith(start)}

    @property
    def aloud(self) -> Phrases:
        """The same phrases for the ear: advice in its spoken form, lengths as people say them."""
        return _Aloud(self.language, self._table, self.units)

    def figure(self, value: float, decimals: int = 1) -> str:
        """A number by itself, with the language's decimal mark."""
        return self._decimal(f"{value:.{decimals}f}")

    # -- lengths ------------------------------------------------------------------------------

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
        return f"{self.number(metres, decimals)} {self._table[f'unit.{self.units}']}"

    def length_to_go(self, metres: float) -> str:
        """The length of a way to go, whatever its sign: "0.4 m", or "a little" for "0.0 m"."""
        if abs(metres) < _LEAST_SHOWN_M:
            return self.text("spoken_length.a_little")
        return self.length(abs(metres))

    def spoken_length(self, metres: float) -> str:
        """A length for the ear, as people say it: "half a metre", "one and a half metres".

        Rounded to 0.1 m below 1 m and to 0.5 m above it, or to half feet. Sign is dropped.
        """
        metres = abs(metres)
        if metres < _A_LITTLE_M:
            return self.text("spoken_length.a_little")
        if self.units == "feet":
            return self._in_halves(metres / METRES_PER_FOOT, "foot", "feet")
        tenths = round(metres * 10)
        if tenths < 10 and tenths != 5:
            return self.text("spoken_length.centimetres", n=tenths * 10)
        return self._in_halves(metres, "metre", "metres")

    def _decimal(self, figure: str) -> str:
        return figure.replace(".", str(self._table["decimal_mark"]))

    def _counted(self, number: int) -> str:
        """The number, 2 or more, in words where the table has them."""
        count: list[str] = self._table["spoken_length.count"]
        return count[number - 2] if number - 2 < len(count) else str(number)

    def _in_halves(self, value: float, one: str, many: str) -> str:
        whole, half = divmod(max(1, math.floor(2 * value + 0.5)), 2)
        if whole == 0:
            return self.text(f"spoken_length.half_{one}")
        if whole == 1:
            return self.text(
                f"spoken_length.one_and_a_half_{many}" if half else f"spoken_length.one_{one}"
            )
        n = self._counted(whole)
        return self.text(
            f"spoken_length.{many}_and_a_half" if half else f"spoken_length.{many}", n=n
        )


class _Aloud(Phrases):
    """What is written for the eye, said for the ear; see `Phrases.aloud`."""

    def text(self, key: str, **values: object) -> str:
        """The phrase, or its spoken form where it is advice."""
        return super().text(key.replace("advice.", "spoken.", 1), **values)

    def length(self, metres: float, decimals: int = 1) -> str:
        """A length as people say it, whatever the decimals."""
        del decimals
        return self.spoken_length(metres)
