"""Triggers: what takes the picture when the countdown reaches zero."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from assist.pose import ColourImage


@dataclass(frozen=True, slots=True)
class Fired:
    """What came of firing. `picture` is the file made, if any; `problem` says what went wrong."""

    trigger: str
    picture: Path | None = None
    problem: str = ""


class Trigger(Protocol):
    """Takes the picture. Must not raise for anything that can happen in the field."""

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Take it; `picture` is the feed's own picture at this moment, unmirrored."""
        ...
