"""What can go wrong in the field while a run goes on, and where that is put for the person to hear.

The person is far from the keyboard: a line on a terminal tells them nothing. Whatever fails leaves
a notice here; the run shows it on the screen and says it, and goes on.
"""

from __future__ import annotations

import errno
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum


class Trouble(Enum):
    """One kind of trouble."""

    NO_PICTURE = "no_picture"
    DISK_FULL = "disk_full"
    READ_ONLY = "read_only"
    FOLDER_GONE = "folder_gone"
    FOLDER_AGAIN = "folder_again"
    NOT_WRITTEN = "not_written"
    ELSEWHERE = "elsewhere"
    COMMAND = "command"
    HANGS = "hangs"
    CAMERA = "camera"
    NOT_FETCHED = "not_fetched"
    TRIGGER = "trigger"
    RECORD = "record"
    VIDEO = "video"
    NO_SOUND = "no_sound"
    SOUND_AGAIN = "sound_again"
    NO_SPEECH = "no_speech"
    NO_SHARE = "no_share"
    PART = "part"

    @property
    def lasts(self) -> bool:
        """Whether it goes on until it is mended, or the run ends, and so stays on the screen."""
        return self in (
            Trouble.VIDEO, Trouble.NO_SOUND, Trouble.NO_SPEECH, Trouble.NO_SHARE, Trouble.PART
        )  # fmt: skip

    @property
    def mends(self) -> Trouble | None:
        """The trouble that is over by it."""
        return Trouble.NO_SOUND if self is Trouble.SOUND_AGAIN else None


_OF_ERRNO = {
    errno.ENOSPC: Trouble.DISK_FULL,
    errno.EDQUOT: Trouble.DISK_FULL,
    errno.EROFS: Trouble.READ_ONLY,
    errno.EACCES: Trouble.READ_ONLY,
    errno.EPERM: Trouble.READ_ONLY,
    errno.ENOENT: Trouble.FOLDER_GONE,
    errno.ENOTDIR: Trouble.FOLDER_GONE,
}


def of_writing(error: BaseException | None) -> Trouble:
    """Why a file could not be written."""
    number = error.errno if isinstance(error, OSError) else None
    return _OF_ERRNO.get(number or 0, Trouble.NOT_WRITTEN)


def of_recording(error: BaseException | None) -> Trouble:
    """Why a line of a record could not be written."""
    why = of_writing(error)
    return why if why in (Trouble.DISK_FULL, Trouble.READ_ONLY) else Trouble.RECORD


@dataclass(frozen=True, slots=True)
class Notice:
    """One piece of trouble; `detail` is one line for the terminal and the record."""

    trouble: Trouble
    detail: str = ""


class Notices:
    """Trouble not yet told; put in from any thread, taken out by the run."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._untold: deque[Notice] = deque(maxlen=16)

    def tell(self, trouble: Trouble, detail: str = "") -> None:
        """Have it told."""
        with self._lock:
            self._untold.append(Notice(trouble, detail))

    def telling(
        self, trouble: Trouble, also: Callable[[str], None] = lambda _: None
    ) -> Callable[[str], None]:
        """A function of one line that tells this trouble, and hands the line to `also` too."""

        def tell(line: str) -> None:
            also(line)
            self.tell(trouble, line)

        return tell

    def take(self) -> list[Notice]:
        """What has not been told yet; it then counts as told."""
        with self._lock:
            untold = list(self._untold)
            self._untold.clear()
        return untold
