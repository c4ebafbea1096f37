"""How measured distances are judged against the truth: errors, intervals and verdicts."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from optics.focus_zone import FocusZone

Z_90 = 1.6449
"""A normal error lies within so many standard deviations nine times in ten."""
ZONE_HALF = 0.12
SURE = 0.90
_OFFSETS = np.linspace(-0.24, 0.24, 25)
"""Where the person stands against the middle of the zone, as parts of the distance. Every picture
is judged against zones placed so that the truth lies at each of these: evenly in and out."""

HEADER = (
    "condition", "pictures", "median %", "p95 %", "bias %", "90 % interval holds",
    "wrong 'in focus' %", "missed 'in focus' %",
)  # fmt: skip


@dataclass
class Errors:
    """Measured depths of one condition. Not-measured pictures count in `absent`."""

    measured_m: list[float] = field(default_factory=list)
    sd_m: list[float] = field(default_factory=list)
    true_m: list[float] = field(default_factory=list)
    absent: int = 0

    def add(self, measured_m: float, sd_m: float, true_m: float) -> None:
        """One more picture."""
        self.measured_m.append(measured_m)
        self.sd_m.append(sd_m)
        self.true_m.append(true_m)

    def extend(self, other: Errors) -> None:
        """All pictures of another condition too."""
        self.measured_m += other.measured_m
        self.sd_m += other.sd_m
        self.true_m += other.true_m
        self.absent += other.absent

    @property
    def relative(self) -> np.ndarray:
        """Signed errors over the true distance."""
        return np.array(self.measured_m) / np.array(self.true_m) - 1

    @property
    def median(self) -> float:
        """Median of the size of the relative error."""
        return float(np.median(np.abs(self.relative)))

    @property
    def p95(self) -> float:
        """95th percentile of the size of the relative error."""
        return float(np.percentile(np.abs(self.relative), 95))

    @property
    def coverage(self) -> float:
        """Part of the pictures whose truth lies in the stated 90 % interval."""
        error = np.array(self.measured_m) - np.array(self.true_m)
        return float(np.mean(np.abs(error) <= Z_90 * np.array(self.sd_m)))

    def verdicts(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Offset of the truth, P(in focus) said, and truly in: one entry per picture and offset."""
        offsets, said, within = [], [], []
        for z, sd, truth in zip(self.measured_m, self.sd_m, self.true_m, strict=True):
            for offset in _OFFSETS:
                middle = truth / (1 + offset)
                near, far = middle * (1 - ZONE_HALF), middle * (1 + ZONE_HALF)
                offsets.append(offset)
                said.append(FocusZone(near, middle, far).probabilities(z, sd).within)
                within.append(near <= truth <= far)
        return np.array(offsets), np.array(said), np.array(within)

    def row(self, name: str, *, stated: bool = True) -> list[str]:
        """Cells under HEADER; `stated` False for a baseline that gives no uncertainty."""
        if not self.measured_m:
            return [name, f"0 of {self.absent}", *["-"] * 6]
        count = len(self.measured_m)
        pictures = f"{count}" if not self.absent else f"{count} of {count + self.absent}"
        cells = [
            name,
            pictures,
            f"{100 * self.median:.1f}",
            f"{100 * self.p95:.1f}",
            f"{100 * float(np.median(self.relative)):+.1f}",
        ]
        if not stated:
            return [*cells, "-", "-", "-"]
        offsets, said, within = self.verdicts()
        called = said >= SURE
        wrong = float(np.mean(called & ~within))
        middle = np.abs(offsets) <= ZONE_HALF / 2
        missed = 1 - float(np.mean(called[middle]))
        return [*cells, f"{self.coverage:.2f}", f"{100 * wrong:.1f}", f"{100 * missed:.0f}"]


def pooled(*parts: Errors) -> Errors:
    """Several conditions as one."""
    whole = Errors()
    for part in parts:
        whole.extend(part)
    return whole


def reliability_plot(path: Path, conditions: dict[str, Errors]) -> None:
    """Stated probability of being in the zone against how often it was so; PNG."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(5, 5), dpi=110)
    axes.plot([0, 1], [0, 1], color="0.6", linewidth=1, label="exact")
    edges = np.linspace(0, 1, 11)
    for (name, errors), marker in zip(conditions.items(), "os^Dv<>", strict=False):
        _, said, within = errors.verdicts()
        bins = np.clip(np.digitize(said, edges) - 1, 0, 9)
        filled = [b for b in range(10) if np.sum(bins == b) >= 20]
        axes.plot(
            [said[bins == b].mean() for b in filled],
            [within[bins == b].mean() for b in filled],
            marker=marker,
            label=name,
        )
    axes.set_xlabel("stated probability that the eyes are in the zone")
    axes.set_ylabel("part of the pictures where they were")
    axes.set_title("zone of \N{PLUS-MINUS SIGN}12 % of the distance")
    axes.legend()
    axes.grid(alpha=0.3)
    figure.tight_layout()
    path.parent.mkdir(exist_ok=True)
    figure.savefig(path)
    pyplot.close(figure)


def finite(*values: float) -> bool:
    """Whether all are numbers."""
    return all(math.isfinite(v) for v in values)
