"""No trigger of ours: the camera's own self-timer takes the picture, the run only records when."""

from __future__ import annotations

from assist.pose import ColourImage
from assist.trigger import Fired

NAME = "none"


class SelfTimerTrigger:
    """Does nothing, and says so."""

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Nothing to do."""
        return Fired(NAME)

    def close(self) -> None:
        """Nothing is held."""
