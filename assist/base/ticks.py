"""Numbers along the axes of a plot, with the language's decimal mark."""

from __future__ import annotations

from matplotlib.axis import Axis
from matplotlib.ticker import ScalarFormatter

from assist.base.words import current


class _Ticks(ScalarFormatter):
    def __call__(self, x: float, pos: int | None = None) -> str:
        return current().decimal(super().__call__(x, pos))


def in_language(*axes: Axis) -> None:
    """Let these axes write their numbers as the language that holds when they are drawn does."""
    for axis in axes:
        axis.set_major_formatter(_Ticks())
