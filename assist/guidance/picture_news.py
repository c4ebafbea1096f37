"""What checking the last picture has shown, as facts for the narrator."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shown = Literal["sharp", "acceptable", "soft", "moved", "unclear"]


@dataclass(frozen=True, slots=True)
class PictureNews:
    """One picture that has been looked at.

    attempt: its number.   shown: what its eyes are.
    off_m: how far the eyes were behind the plane of focus, as far as that is known by now; negative
    in front of it; None where it is not, or where it makes no difference.
    """

    attempt: int
    shown: Shown
    off_m: float | None = None
