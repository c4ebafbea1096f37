"""The camera takes the picture by its own timer or remote, and its file appears in a folder.

A card reader, the camera's wireless transfer, a maker's own software: whatever writes files.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from assist.base.errors import UserError
from assist.base.exposure_time import exposed_at_of
from assist.base.image_files import MOST_BYTES, PICTURE_ENDINGS, RAW_ENDINGS, is_whole
from assist.base.images import ColourImage
from assist.base.reading import read_bytes
from assist.base.trouble import Trouble
from assist.base.words import _
from assist.camera.storing import store
from assist.camera.trigger import Fired, Trigger

NAME = "folder"
_LOOK_EVERY_S = 0.2
_STANDS_STILL_S = 0.6
"""A file whose size has not changed for so long, and that can be read, is there."""
_DAMAGED_AFTER_S = 6.0
"""One that still cannot be read after standing still for so long is taken as it is."""
_SIBLING_S = 3.0
"""How long after its JPEG the raw of the same picture may come, or the other way round."""
_SAME_MOMENT_S = 4.0
"""How far the camera's clock may put a picture from the attempt that it belongs to, once the
clocks' difference is known: a self-timer's tolerance and a clock of whole seconds."""
_BEFORE_ZERO_S = 1.5
"""A camera's own timer may end so much before the run's."""


@dataclass
class _File:
    """A new file: its size when last looked at, since when that is so, and what is known of it."""

    path: Path
    size: int
    since_s: float
    appeared_s: float
    exposed: datetime | None = None
    looked: bool = False


def _seconds(moment: datetime) -> float:
    """On the camera's own clock; its zone does not matter, only differences count."""
    return moment.replace(tzinfo=None).timestamp()


class FolderTrigger(Trigger):
    """Waits for the picture's files in a folder and copies them into the session's.

    Files that lie there at the start, and those of pictures taken by hand in between, belong to no
    attempt and stay where they are. Which attempt a file belongs to is settled by when it appeared
    and, once the difference of the clocks is known from a first one, by when it was taken. A raw
    file and a JPEG of one name are one picture.

    watched: the folder that files appear in.   folder: the session's.   clock: seconds. Raises
    UserError for a folder that is none.
    """

    name = NAME

    def __init__(
        self,
        watched: Path,
        folder: Path,
        limit_s: float = 60.0,
        clock: Callable[[], float] = time.time,
    ) -> None:
        if not watched.is_dir():
            raise UserError(
                _(
                    "--pictures-from {folder}: there is no such folder: name the one that the "
                    "camera's files appear in",
                    folder=watched,
                )
            )
        if watched.resolve() == folder.resolve():
            raise UserError(
                _(
                    "--pictures-from {folder} is the session's own folder: name another",
                    folder=watched,
                )
            )
        self._watched, self._folder, self._clock = watched, folder, clock
        self.limit_s = limit_s
        self._old = {path for path, _size in self._listed()}
        self._new: dict[Path, _File] = {}
        self._ordered_s: dict[int, float] = {}
        self._clock_ahead_s: float | None = None
        self._broken_off: tuple[int, str] = (-1, "")

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Note the moment: the camera itself takes the picture; `fetch` waits for its files."""
        self._ordered_s[attempt] = self._clock()
        return Fired(NAME, to_fetch=True)

    def fetch(self, fired: Fired, attempt: int) -> Fired:
        """Wait for the files of the attempt and copy them, the one that shows easily first."""
        ordered_s = self._ordered_s[attempt]
        while self._broken_off[0] != attempt:
            mine = self._files_of(attempt)
            if mine:
                return self._copied(mine, attempt)
            if self._clock() - ordered_s > self.limit_s:
                break
            time.sleep(_LOOK_EVERY_S)
        self._ordered_s.pop(attempt, None)
        problem = _("no picture came into {folder}", folder=self._watched)
        return Fired(NAME, None, problem, trouble=Trouble.CAMERA)

    def abort(self, attempt: int, why: str) -> None:
        """Wait for its files no longer."""
        self._broken_off = attempt, why

    def idle(self) -> None:
        """Pass over what was taken by hand meanwhile."""
        self._look()
        self._old |= {path for path, file in self._new.items() if self._there(file)}
        self._new = {path: file for path, file in self._new.items() if path not in self._old}

    def close(self) -> None:
        """Nothing is held."""

    def _listed(self) -> list[tuple[Path, int]]:
        """Files that may be pictures, and their sizes; none while the folder is away."""
        found = []
        try:
            for path in self._watched.iterdir():
                if path.suffix.lower() in PICTURE_ENDINGS | RAW_ENDINGS and path.is_file():
                    found.append((path, path.stat().st_size))
        except OSError:  # a card that was pulled, a share that is gone: it may come back
            return found
        return found

    def _look(self) -> None:
        now_s = self._clock()
        for path, size in self._listed():
            if path in self._old or path.name.startswith("."):
                continue
            file = self._new.get(path)
            if file is None:
                self._new[path] = _File(path, size, now_s, now_s)
            elif file.size != size:
                file.size, file.since_s, file.looked = size, now_s, False

    def _there(self, file: _File) -> bool:
        """Whether it has been written to its end, as far as can be told."""
        still_s = self._clock() - file.since_s
        if file.size == 0 or still_s < _STANDS_STILL_S:
            return False
        if file.looked:
            return True
        raw = file.path.suffix.lower() in RAW_ENDINGS
        file.looked = raw or is_whole(file.path) or still_s > _DAMAGED_AFTER_S
        if file.looked:
            file.exposed = exposed_at_of(file.path)
        return file.looked

    def _files_of(self, attempt: int) -> list[_File]:
        """All files of the attempt once they are all there, that which shows easily first."""
        self._look()
        there = [file for file in self._new.values() if self._there(file)]
        first = next((file for file in there if self._whose(file) == attempt), None)
        if first is None:
            return []
        mine = [f for f in self._new.values() if f.path.stem == first.path.stem]
        late = self._clock() - min(f.since_s for f in mine) < _SIBLING_S
        if not all(self._there(f) for f in mine) or (len(mine) == 1 and late and self._pairs):
            return []
        return sorted(mine, key=lambda f: f.path.suffix.lower() in RAW_ENDINGS)

    @property
    def _pairs(self) -> bool:
        """Whether raw and JPEG come together here, as those did that lie there already."""
        kinds = [p.suffix.lower() in RAW_ENDINGS for p in (*self._old, *self._new)]
        return any(kinds) and not all(kinds)

    def _whose(self, file: _File) -> int | None:
        """The attempt that the file belongs to; None for none."""
        waiting = {n: s for n, s in self._ordered_s.items() if file.appeared_s > s - _BEFORE_ZERO_S}
        if not waiting:
            return None
        if file.exposed is not None and self._clock_ahead_s is not None:
            taken_s = _seconds(file.exposed) - self._clock_ahead_s
            nearest = min(waiting, key=lambda n: abs(waiting[n] - taken_s))
            return nearest if abs(waiting[nearest] - taken_s) <= _SAME_MOMENT_S else None
        return min(waiting)

    def _copied(self, files: list[_File], attempt: int) -> Fired:
        ordered_s = self._ordered_s.pop(attempt)
        stored, problems, trouble = [], [], None
        for file in files:
            self._old.add(file.path)
            del self._new[file.path]
            if file.exposed is not None and self._clock_ahead_s is None:
                self._clock_ahead_s = _seconds(file.exposed) - ordered_s
            try:
                content = read_bytes(file.path, _("the picture"), MOST_BYTES)
            except UserError as error:
                problems.append(str(error))
                trouble = Trouble.NOT_FETCHED
                continue
            kept = store(self._folder, f"picture-{attempt:04d}{file.path.suffix.lower()}", content)
            if kept.path is None:
                problems.append(_("taken, but not stored: {why}", why=kept.problem))
                trouble = Trouble.NOT_FETCHED
                continue
            stored.append(kept.path)
            problems += [kept.problem] if kept.problem else []
            trouble = trouble or kept.trouble
        first = stored[0] if stored else None
        return Fired(
            NAME,
            first,
            "; ".join(dict.fromkeys(problems)),
            on_card=str(files[0].path.name),
            trouble=trouble,
            others=tuple(stored[1:]),
        )
