"""No trigger of ours: the camera's own self-timer takes the picture, the run only records when."""

from __future__ import annotations

from assist.base.images import ColourImage
from assist.camera.trigger import Fired, Trigger

NAME = "none"


class SelfTimerTrigger(Trigger):
    """Does nothing, and says so."""

    name = NAME
    hears = False

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Nothing to do."""
        return Fired(NAME)

    def close(self) -> None:
        """Nothing is held."""
