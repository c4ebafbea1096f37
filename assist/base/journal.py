"""A file of one JSON object a line, added to and never rewritten.

Each addition is forced to the disk before the run goes on: a power cut loses at most the line being
written. That line is passed over in reading, and put aside before the next is added.
"""

from __future__ import annotations

import contextlib
import io
import os
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from assist.base import rescue
from assist.base.errors import UserError
from assist.base.reading import MOST_RECORD_BYTES, read_bytes
from assist.base.system import here, locks
from assist.base.words import _, _n

MOST_LINES = 40_000
MOST_LINE_BYTES = 64_000
TORN_SUFFIX = ".torn"

Entry = TypeVar("Entry")


class NewerVersionError(ValueError):
    """A line written by a newer program than this."""


def read(path: Path, parse: Callable[[bytes], Entry]) -> list[Entry]:
    """The entries, none where there is no file; a damaged last line is passed over.

    `parse` raises ValueError for a damaged line. Raises UserError when any other is damaged, when
    one is newer than this program, or when the file is larger than any real one.
    """
    if not path.exists():
        return []
    lines = read_bytes(path, _("record {path}", path=path), MOST_RECORD_BYTES).splitlines()
    if len(lines) > MOST_LINES:
        raise UserError(
            _("record {path} cannot be read: more than {most} lines", path=path, most=MOST_LINES)
        )
    entries = []
    for number, line in enumerate(lines, start=1):
        try:
            entries.append(_entry(line, parse))
        except NewerVersionError as error:
            raise UserError(
                _("record {path}, line {number}: {error}", path=path, number=number, error=error)
            ) from error
        except ValueError as error:
            if number == len(lines):
                break
            raise UserError(
                _("record {path}, line {number} is damaged", path=path, number=number)
            ) from error
    return entries


def mend(path: Path, parse: Callable[[bytes], Entry]) -> None:
    """Put a damaged last line aside, in a file beside, so that the next does not run into it.

    One that a newer program wrote is left alone. Raises UserError when it cannot be done.
    """
    torn = path.with_suffix(TORN_SUFFIX)
    for file in (path, torn):
        if file.is_symlink():
            raise UserError(
                _(
                    "record {path} is a link: a session is written in its own folder only; put "
                    "the file itself there",
                    path=file,
                )
            )
    if not path.exists():
        return
    content = read_bytes(path, _("record {path}", path=path), MOST_RECORD_BYTES)
    lines = content.splitlines(keepends=True)
    if not lines:
        return
    last = lines[-1]
    ended = last.endswith((b"\n", b"\r"))
    try:
        try:
            _entry(last, parse)
        except NewerVersionError:
            return
        except ValueError:
            if last.strip():
                with _open_to_add(torn) as aside:
                    aside.write(last if ended else last + b"\n")
            os.truncate(path, len(content) - len(last))
        else:
            if not ended:
                end_last_line(path)
    except OSError as error:
        raise UserError(
            _("record {path} cannot be mended: {why}", path=path, why=error.strerror)
        ) from error


class JournalWriter:
    """Adds entries to a journal; what the disk does not take is held and tried again.

    Damage at the journal's end is mended first. Raises UserError as `mend` does.
    """

    def __init__(self, path: Path, parse: Callable[[bytes], Entry]) -> None:
        mend(path, parse)
        self.path = path
        self._written: list[bytes] = []
        self._unwritten: list[bytes] = []

    @property
    def gone(self) -> bool:
        """Whether the file was deleted after something had been written into it."""
        return bool(self._written) and not self.path.exists()

    def hold(self, line: str) -> None:
        """Have a line, without its end, written by the next `write` or `settle`."""
        self._unwritten.append(line.encode() + b"\n")

    def write(self) -> None:
        """Write what is held; if the file has gone, all that it had from here as well.

        Raises OSError as `add` does; what is held is then still held.
        """
        if self.gone:
            self._unwritten = self._written + self._unwritten
            self._written = []
        if not self._unwritten:
            return
        add(self.path, b"".join(self._unwritten))
        self._written += self._unwritten
        self._unwritten = []

    def settle(self) -> Path | None:
        """Write what is still held; elsewhere, if need be, and then say where.

        Raises UserError when it can be written nowhere.
        """
        try:
            self.write()
        except OSError as error:
            folder = self.path.parent
            try:
                kept = rescue.keep(self.path.name, b"".join(self._unwritten), folder)
            except UserError:
                raise UserError(
                    _n(
                        "record {path} cannot be written: {why}; a line is not in it",
                        "record {path} cannot be written: {why}; {n} lines are not in it",
                        len(self._unwritten),
                        path=self.path,
                        why=error.strerror,
                    )
                ) from error
            self._unwritten = []
            return kept
        return None


def end_last_line(path: Path) -> None:
    """End a last line that is whole but for its end. Raises OSError as `add` does."""
    add(path, b"\n")


def add(path: Path, content: bytes) -> None:
    """Add all of it, on the disk when this returns, or nothing. Raises OSError."""
    new = not path.exists()
    with _open_to_add(path) as file:
        before = file.seek(0, os.SEEK_END)
        try:
            left = memoryview(content)
            while left:
                left = left[file.write(left) :]
            os.fsync(file.fileno())
        except BaseException:
            # Half a line would spoil the next one.
            with contextlib.suppress(OSError):
                file.truncate(before)
            raise
    if new:
        with contextlib.suppress(OSError):  # the line itself is there
            locks.sync_folder(here(), path.parent)


def _entry(line: bytes, parse: Callable[[bytes], Entry]) -> Entry:
    if len(line) > MOST_LINE_BYTES:
        raise ValueError(_("longer than {most} bytes", most=MOST_LINE_BYTES))
    return parse(line)


def _open_to_add(path: Path) -> io.FileIO:
    """OSError where it is a link, which may lead out of the folder."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
    flags |= getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    return io.FileIO(os.open(path, flags, 0o666), "ab")
