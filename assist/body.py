"""What is known about the person's body."""

from __future__ import annotations

from dataclasses import dataclass

ADULT_STATURE_M = 1.69
ADULT_STATURE_SD_M = 0.09
"""Adults, women and men together: means 1.629 and 1.756 m, standard deviations 0.064 and 0.069 m
(ANSUR II, NATICK/TR-15/007, 2014; from memory), mixed half and half."""


@dataclass(frozen=True, slots=True)
class Person:
    """The person in the picture; `stature_m` is the height without shoes, None where unknown."""

    stature_m: float | None = None

    @property
    def likely_stature_m(self) -> float:
        """Stature if known, else the adult mean."""
        return ADULT_STATURE_M if self.stature_m is None else self.stature_m

    @property
    def relative_stature_sd(self) -> float:
        """What is not known about the stature, as a part of it."""
        return ADULT_STATURE_SD_M / ADULT_STATURE_M if self.stature_m is None else 0.01
