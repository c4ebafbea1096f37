"""What a run shows to be odd about the feed, each remarked once."""

from __future__ import annotations

from collections.abc import Callable

from assist.base.words import _
from assist.guidance.advice import Exchanged
from assist.guidance.assistant import Moment
from assist.guidance.guide import Guidance, Reason
from assist.setup.set_up import SetUp


def lies_across(rotate_deg: int) -> str:
    """What to say of a person who lies across the picture, which that `--rotate` would set up."""
    return _(
        "you appear to be lying down in the picture: if it is the picture that lies on its side or "
        "its head, give --rotate {degrees}",
        degrees=rotate_deg,
    )


_LINES: dict[Reason | str, Callable[[], str]] = {
    Reason.SQUEEZED: lambda: _(
        "faces in the feed are too slim or too wide for anybody's: its picture seems squeezed, and "
        "distances would be wrong. Set the capture device to the camera's own size, such as "
        "1280x720 for 16:9; until it looks right nothing is said to be in focus"
    ),
    Reason.STATURE: lambda: _(
        "the stated height does not fit the face beside the body: mend --stature, leave it out, "
        "or have yourself measured by assist calibrate mark; until then nothing is said to be in "
        "focus"
    ),
    Reason.STATURE_UNSEEN: lambda: _(
        "few people are as tall as stated: once the face has been seen it is believed"
    ),
    "exchanged": lambda: _(
        "left and right seem to be exchanged, so no side is told any more: if the feed mirrors its "
        "own picture, give --feed-mirrored, and if it does not, --feed-not-mirrored"
    ),
}


class FeedRemarks:
    """Looks at a run's moments. `note` takes a line for the terminal."""

    def __init__(self, chosen: SetUp, note: Callable[[str], None]) -> None:
        self._note = note
        stated = "orientation" in chosen.camera.model_fields_set
        same_picture = stated and chosen.feed.through == "taking-lens"
        self._orientation = chosen.camera.orientation if same_picture else None
        self._turn_told = False
        self._told: set[Reason | str] = set()

    def see(self, moment: Moment) -> None:
        """The next moment."""
        self._doubt(moment.guidance)
        if self._orientation is not None and moment.frame.unfit is None:
            self._compare(self._orientation, moment)
            self._orientation = None
        if moment.person.rotate_deg is not None and not self._turn_told:
            self._turn_told = True
            self._note(lies_across(moment.person.rotate_deg))

    def _doubt(self, guidance: Guidance) -> None:
        """What to do about a doubt, at the keyboard, once each."""
        exchanged = any(isinstance(advice, Exchanged) for advice in guidance.advice)
        code = "exchanged" if exchanged else guidance.why.reason
        if code in self._told or code not in _LINES:
            return
        self._told.add(code)
        self._note(_LINES[code]())

    def _compare(self, stated: str, moment: Moment) -> None:
        height, width = moment.frame.picture.shape[:2]
        seen = "portrait" if height > width else "landscape"
        if seen == stated or height == width:
            return
        size = f"{width} x {height}"
        if seen == "portrait":
            line = _(
                "the set-up's orientation is landscape, and the feed's picture is portrait "
                "({size}): if it lies on its side, give --rotate 90 or 270, else mend orientation "
                "in the set-up",
                size=size,
            )
        else:
            line = _(
                "the set-up's orientation is portrait, and the feed's picture is landscape "
                "({size}): if it lies on its side, give --rotate 90 or 270, else mend orientation "
                "in the set-up",
                size=size,
            )
        self._note(line)
