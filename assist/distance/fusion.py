"""One distance from several cues whose errors are not independent.

Cues that read the same landmarks tell the same thing twice: their mean is no better than the best
of them, and two that agree may be wrong together. So the answer comes from the *sources*: the one
landmark cue that uses most of the picture, and the face or head, which rest on another size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assist.distance import CueReading

SHARED = 0.3
"""Correlation of the own errors of two sources: both take the posture from the same network."""
_OUTLIER = 4.0


@dataclass(frozen=True, slots=True)
class Fused:
    """The fused depth of the eyes, its standard deviation, and the sources that took part."""

    eyes_m: float
    sd_m: float
    used: tuple[str, ...]


def _own_variance(reading: CueReading) -> float:
    """The part of a reading's variance that is not the body's scale."""
    return max(reading.sd_m**2 - reading.scale_sd_m**2, 1e-12)


def fuse(sources: Sequence[CueReading]) -> Fused:
    """Weighted mean of the sources; the first is the main one.

    With w the weights by total variance, s_i a source's own standard deviation, g_i its share of
    the scale's: variance = sum_ij w_i w_j (r_ij s_i s_j + g_i g_j) + disagreement, r_ii = 1 and
    else SHARED. Disagreement: sum_i w_i ((z_i - z)^2 - s_i^2 - g_i^2) over the sources that are
    farther off than they say.
    A further source more than 4 standard deviations from the main one does not move the answer;
    one of the two is wrong, and which of them nobody knows, so it widens it like the others.
    Raises ValueError when there is no source.
    """
    if not sources:
        raise ValueError("no cue to fuse")
    main = sources[0]
    kept: list[CueReading] = [main]
    doubted: list[CueReading] = []
    for reading in sources[1:]:
        reach = _OUTLIER * math.hypot(main.sd_m, reading.sd_m)
        (kept if abs(reading.eyes_m - main.eyes_m) <= reach else doubted).append(reading)
    total = sum(r.sd_m**-2 for r in kept)
    weights = [r.sd_m**-2 / total for r in kept]
    mean = sum(w * r.eyes_m for w, r in zip(weights, kept, strict=True))
    variance = 0.0
    for i, (w_i, one) in enumerate(zip(weights, kept, strict=True)):
        for j, (w_j, other) in enumerate(zip(weights, kept, strict=True)):
            own = math.sqrt(_own_variance(one) * _own_variance(other)) * (1 if i == j else SHARED)
            variance += w_i * w_j * (own + one.scale_sd_m * other.scale_sd_m)
    for reading in (*kept, *doubted):
        excess = (reading.eyes_m - mean) ** 2 - reading.sd_m**2
        share = reading.sd_m**-2 / (total + (reading.sd_m**-2 if reading in doubted else 0.0))
        variance += share * max(excess, 0.0)
    return Fused(mean, math.sqrt(variance), tuple(r.cue for r in kept))
