"""Feeds: where pictures come from, each with its time; `open_source` finds the one a user named."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Literal, Protocol

from assist.base.errors import UserError, shown
from assist.base.images import ColourImage
from assist.base.secret import filled_in
from assist.base.words import _

Pace = Literal["fast", "real"]


class Unfit(Enum):
    """Why nothing can be measured in a picture, though it is one."""

    SHAPE = "shape"
    """It has another shape than the feed's profile was learned at."""
    BARS = "bars"
    """It seems to have bars, and whether it has is being looked at."""
    SIGNS = "signs"
    """It seems to have bars with signs or colours in them, and that stays in doubt."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One picture of a feed.

    time_s: when it was taken, as well as can be told, on the feed's own clock, which never goes
        back: `time.monotonic` for a live one, time since the beginning for a file.
    index: position in the feed; gaps are pictures that were left out to keep up.
    unfit: why nothing can be measured in it; None where it can.
    age_s: how old it was when it arrived, which `time_s` takes account of. A delay that never
        changes is in it only where it was stated or measured.
    doubt_s: how much older it may be, by the signs of its way here; infinite where that is unknown.
    """

    picture: ColourImage
    time_s: float
    index: int
    unfit: Unfit | None = None
    age_s: float = 0.0
    doubt_s: float = 0.0

    @property
    def arrived_s(self) -> float:
        """When it came, on the feed's own clock."""
        return self.time_s + self.age_s

    @property
    def at_worst_s(self) -> float:
        """When it was taken if all that is doubtful goes against it."""
        return self.time_s - self.doubt_s


class Silence(Enum):
    """Why nothing new is known of a feed."""

    NOT_BEGUN = "not_begun"
    """No picture has come yet."""
    STOPPED = "stopped"
    """No more pictures come."""
    FROZEN = "frozen"
    """The same picture comes again and again."""
    GARBLED = "garbled"
    """What comes is no picture."""
    LATE = "late"
    """Pictures are old when they have been looked at."""
    BEHIND = "behind"
    """Pictures are old already when they come."""
    UNSEEN = "unseen"
    """Pictures come, but the pose network fails at them."""
    SHAPE = "shape"
    """Pictures come, but of another shape than the feed's profile was learned at."""


class Source(Protocol):
    """Reads pictures one after another, each when it is there. Used by one thread.

    A picture handed out must not be written to afterwards: the next one is compared with it.
    """

    live: bool
    """Whether pictures arrive by themselves (a camera) or wait to be read (a file)."""
    frames_expected: int | None
    """How many pictures will come, where that is known."""
    rate_hz: float
    """Nominal pictures a second."""

    def read(self) -> Frame | None:
        """The next picture; None at the end."""
        ...

    def close(self) -> None:
        """Let go of the device or file; safe to call twice."""
        ...


def open_source(text: str, rotation_deg: int = 0) -> Source:
    """The source that a user named: camera number, device path, address, video file or folder.

    Raises UserError when there is no such thing or it does not open.
    """
    from assist.feed.camera import CameraSource, open_stream  # noqa: PLC0415
    from assist.feed.image_folder import ImageFolderSource  # noqa: PLC0415
    from assist.feed.stream_kinds import stream_kinds  # noqa: PLC0415
    from assist.feed.video_file import VideoFileSource  # noqa: PLC0415

    path = Path(text)
    if re.match(r"^[0-9]{1,4}$", text.strip()):
        return CameraSource(int(text), rotation_deg)
    address = re.match(r"^([a-z][a-z0-9+.-]+)://", text, re.IGNORECASE)
    if address:
        kind = address[1].lower()
        if kind not in stream_kinds():
            raise UserError(
                _(
                    "feed {text}: {way} is not a supported stream type: use {known}",
                    text=shown(text),
                    way=kind,
                    known=", ".join(stream_kinds()),
                )
            )
        return open_stream(filled_in(kind + text[address.end(1) :]), rotation_deg)
    try:
        if path.is_dir():
            return ImageFolderSource(path, rotation_deg)
        if path.is_char_device():
            return CameraSource(text, rotation_deg)
        there = path.exists()
    except (OSError, ValueError) as error:  # a name too long for the system, or one it refuses
        why = error.strerror if isinstance(error, OSError) else error
        raise UserError(
            _("feed {text} cannot be read: {why}", text=shown(text), why=why)
        ) from error
    if not there:
        raise UserError(
            _(
                "feed {text} does not exist: give a camera number (0 is the first), a device "
                "path, an address such as rtsp://..., a video file or a folder of pictures",
                text=shown(text),
            )
        )
    if not os.access(path, os.R_OK):
        raise UserError(_("feed {text} cannot be read: permission denied", text=shown(text)))
    if not path.is_file():  # a pipe would be waited for, for ever
        raise UserError(_("feed {text} is not an ordinary file", text=shown(text)))
    return VideoFileSource(path, rotation_deg)
