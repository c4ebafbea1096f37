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


@dataclass(frozen=True, slots=True)
class TestPicture:
    """A test picture that is asked for.

    number, of: which of how many.
    move_m: where to stand: so far behind the mark, or behind where they stood last; negative in
    front of it.   from_mark: which of the two.
    """

    __test__ = False  # the test runner takes the name for a test's

    number: int
    of: int
    move_m: float
    from_mark: bool
