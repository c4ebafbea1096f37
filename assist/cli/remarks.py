"""What a run shows to be odd about the feed, each said once on the terminal."""

from __future__ import annotations

from collections.abc import Callable

from assist.guidance.assistant import Moment
from assist.setup.set_up import SetUp


def lies(rotate_deg: int) -> str:
    """What to say of a person who lies across the picture, which that `--rotate` would set up."""
    return (
        "you have lain in the picture for seconds: if it is the picture that lies on its side or "
        f"its head, give --rotate {rotate_deg}"
    )


class Remarks:
    """Looks at a run's moments. `note` takes a line for the terminal."""

    def __init__(self, chosen: SetUp, note: Callable[[str], None]) -> None:
        self._note = note
        stated = "orientation" in chosen.camera.model_fields_set
        same_picture = stated and chosen.feed.through == "taking-lens"
        self._orientation = chosen.camera.orientation if same_picture else None
        self._turn_told = False

    def see(self, moment: Moment) -> None:
        """The next moment."""
        if self._orientation is not None and moment.frame.unfit is None:
            self._compare(self._orientation, moment)
            self._orientation = None
        if moment.person.rotate_deg is not None and not self._turn_told:
            self._turn_told = True
            self._note(lies(moment.person.rotate_deg))

    def _compare(self, stated: str, moment: Moment) -> None:
        height, width = moment.frame.picture.shape[:2]
        seen = "portrait" if height > width else "landscape"
        if seen != stated and height != width:
            self._note(
                f"the set-up's orientation is {stated}, and the feed's picture is {seen} "
                f"({width} x {height}): if it lies on its side, give --rotate 90 or 270, else "
                "mend orientation in the set-up"
            )
