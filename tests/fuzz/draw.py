"""Bytes turned into choices: what a fuzzer flips becomes another value at another place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

T = TypeVar("T")

NASTY: tuple[Any, ...] = (
    0, -1, 1, 2, 0.0, -0.0, 1e-320, 1e-9, 0.5, 50, 1e308, -1e308, 2**31, 2**63, -(2**63), 10**40,
    float("nan"), float("inf"), float("-inf"), True, False, "", " ", "nan", "inf", "-inf",
    "1e999", "1/0", "0/0", "0x10", "50mm", "f/0", "f/2.8", "3 m", "1e30 m", "10'6\"", "³", "٣",
    "1_000", "\x00", "a\x00b", "\x1b[31m", "\n", "\u202e", "\ud800", "\U0001f4f7", "=1+1",
    "<script>", "../x", "/etc/passwd", "C:\\x", "$x$", "%s%n", "{attempt}", "x" * 300, "9" * 5000,
    "2026-05-01", "2026-05-01T10:00:00Z", "0001-01-01T00:00:00",
    "9999-12-31T23:59:59.999999+14:00", [], {}, [1, 2], [[[[]]]], {"a": {"b": 1}}, "sharp",
    "soft", "in focus", "full-frame", "0.001x900", "diagonal/0", "diagonal/1e9", "2 px",
    "print 30 cm from 40 cm", "own-lens", "portrait",
)  # fmt: skip


class Draw:
    """Reads choices from bytes; at their end every choice is the first."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._at = 0

    @property
    def over(self) -> bool:
        """Whether all bytes are used."""
        return self._at >= len(self._data)

    def byte(self) -> int:
        """The next byte, 0 at the end."""
        value = 0 if self.over else self._data[self._at]
        self._at += 1
        return value

    def number(self, width: int) -> int:
        """A whole number of so many bytes."""
        return int.from_bytes(bytes(self.byte() for _ in range(width)), "big")

    def rest(self) -> bytes:
        """All that is left."""
        left = self._data[self._at :]
        self._at = len(self._data)
        return left

    def choice(self, values: Sequence[T]) -> T:
        """One of up to 256 values."""
        return values[self.byte() % len(values)]

    def text(self) -> str:
        """A short text of any characters, lone surrogates included."""
        return "".join(chr(self.number(2)) for _ in range(self.byte() % 12))

    def value(self) -> Any:
        """Anything that a file could hold in a field."""
        kind = self.byte()
        if kind < 200:
            return _copied(NASTY[kind % len(NASTY)])  # lists are changed by who gets them
        if kind < 220:
            return self.text()
        if kind < 240:
            return (self.number(3) - (1 << 23)) / (1 << self.byte() % 40)
        return self.number(self.byte() % 9)


def mutated(values: Any, draw: Draw, most: int = 6) -> Any:
    """A nested value with up to `most` places changed, left out, doubled or made up."""
    result = _copied(values)
    for _ in range(1 + draw.byte() % most):
        place: Any = result
        while True:
            keys: list[Any] = (
                sorted(place, key=str) if isinstance(place, dict) else list(range(len(place)))
            )
            if not keys:
                break
            key = draw.choice(keys)
            if isinstance(place[key], (dict, list)) and place[key] and draw.byte() % 8:
                place = place[key]
                continue
            _change(place, key, draw)
            break
        if draw.over:
            break
    return result


def _change(place: Any, key: Any, draw: Draw) -> None:
    how = draw.byte() % 10
    if how < 7:
        place[key] = draw.value()
    elif how == 7:
        del place[key]
    elif isinstance(place, dict):
        place[draw.text() or "more"] = draw.value()
    else:
        place.append(draw.value())


def _copied(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copied(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_copied(inner) for inner in value]
    return value
