"""Footage with known truth: where the eyes of the person in the shipped clip really are."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assist.base.errors import UserError
from assist.base.words import _
from optics.checks import FloatArray


@dataclass(frozen=True, slots=True)
class Truth:
    """Time (n,), s, and axial depth of the point midway between the eyes from the lens (n,), m."""

    time_s: FloatArray
    eyes_m: FloatArray

    def eyes_at(self, time_s: float) -> float:
        """Depth of the eyes at a time, metres, interpolated."""
        return float(np.interp(time_s, self.time_s, self.eyes_m))


def load(path: Path) -> Truth:
    """Read the table; lines that start with # are comments."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
        return Truth(
            np.array([float(row["time_s"]) for row in rows]),
            np.array([float(row["eye_mid_z_m"]) for row in rows]),
        )
    except (OSError, KeyError, ValueError, TypeError) as error:
        raise UserError(
            _("truth table {file} cannot be read: {error}", file=path, error=error)
        ) from error
