"""A session's folder: the set-up used, the pictures, and a record of every attempt.

The record is one JSON object a line, each written whole and forced to the disk before the run goes
on: a power cut loses at most the line being written. Every line carries the version of its layout;
older ones are brought up to date as they are read, and never rewritten.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import datetime, timezone
from pathlib import Path
from types import TracebackType
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from assist import session_lock
from assist import set_up as set_up_files
from assist.errors import UserError
from assist.files import write_whole
from assist.set_up import SetUp
from assist.system import here, locks

RECORD_FILE = "record.jsonl"
SET_UP_FILE = "set-up.toml"
PROFILE_FILE = "profile.toml"
FEED_PROFILE_FILE = "feed-profile.toml"
TORN_FILE = "record.torn"
VERSION: Literal[2] = 2


class Attempt(BaseModel):
    """One line of the record. Distances are in metres from the sensor plane.

    exit_code: that of a command of the user's that fired.   on_card: the picture's path on the
    camera's card, for a tethered camera.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    version: Literal[2] = VERSION
    attempt: int
    taken_at: datetime
    feed: str
    feed_time_s: float
    verdict: str
    distance_m: float | None
    standard_deviation_m: float | None
    p_in_focus: float
    to_mark_m: float | None
    guidance: str
    framing: str | None
    cut: tuple[str, ...] = ()
    trigger: str
    picture: str | None
    problem: str = ""
    exit_code: int | None = None
    on_card: str = ""
    set_up: dict[str, Any]


def _from_1(line: dict[str, Any]) -> dict[str, Any]:
    """Version 2 added the exit code of a command and the place on the card."""
    return {**line, "version": 2, "exit_code": None, "on_card": ""}


_MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _from_1}
"""From each older version to the next."""


class NewerVersionError(ValueError):
    """A line written by a newer program than this."""


def migrated(line: dict[str, Any]) -> dict[str, Any]:
    """A line of any version so far, in the layout of this one."""
    version = line.get("version", 1)
    if not isinstance(version, int) or version > VERSION:
        raise NewerVersionError(f"version {version!r} is newer than this program knows")
    while version != VERSION:
        line = _MIGRATIONS[version](line)
        version = line["version"]
    return line


class Session:
    """An open session folder; appends to its record, each line whole and on the disk at once.

    One process at a time may have it open. A context manager; closing lets the next one in.
    """

    def __init__(self, folder: Path, set_up: SetUp) -> None:
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UserError(f"cannot make session folder {folder}: {error.strerror}") from error
        if not os.access(folder, os.W_OK):
            raise UserError(f"session folder {folder} cannot be written to: permission denied")
        session_lock.acquire(folder)
        self._open = True
        try:
            _mend(folder)
            self.next_attempt = 1 + max((a.attempt for a in read_record(folder)), default=0)
            set_up_files.save(set_up, folder / SET_UP_FILE)
        except BaseException:
            self.close()
            raise

    def keep_profiles(self, personal: Path | None, feed: Path | None) -> None:
        """Keep copies of the profiles that the run uses, so that it can be repeated elsewhere.

        Raises UserError when one cannot be read.
        """
        for profile, name in ((personal, PROFILE_FILE), (feed, FEED_PROFILE_FILE)):
            if profile is None or profile.resolve() == (self.folder / name).resolve():
                continue
            try:
                content = profile.read_bytes()
            except OSError as error:
                raise UserError(f"profile {profile} cannot be read: {error.strerror}") from error
            write_whole(self.folder / name, content)

    def append(self, attempt: Attempt) -> None:
        """Add a line to the record. Raises OSError when the disk does not take it."""
        line = attempt.model_dump_json() + "\n"
        path = self.folder / RECORD_FILE
        new = not path.exists()
        with path.open("ab") as file:
            file.write(line.encode())
            file.flush()
            os.fsync(file.fileno())
        if new:
            locks.sync_folder(here(), self.folder)
        self.next_attempt = max(self.next_attempt, attempt.attempt + 1)

    def close(self) -> None:
        """Let another run have the folder; safe to call twice."""
        if self._open:
            self._open = False
            session_lock.release(self.folder)

    def __enter__(self) -> Session:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _mend(folder: Path) -> None:
    """Put a last line that was cut short aside, so that the next one does not run into it."""
    path = folder / RECORD_FILE
    if not path.exists():
        return
    try:
        content = path.read_bytes()
        if not content or content.endswith(b"\n"):
            return
        whole, _, rest = content.rpartition(b"\n")
        if _parsed(rest) is not None:
            with path.open("ab") as file:
                file.write(b"\n")
            return
        with (folder / TORN_FILE).open("ab") as file:
            file.write(rest + b"\n")
        with path.open("r+b") as file:
            file.truncate(len(whole) + 1 if whole else 0)
    except OSError as error:
        raise UserError(f"record {path} cannot be mended: {error.strerror}") from error


def _parsed(line: bytes) -> Attempt | None:
    try:
        return Attempt.model_validate(migrated(json.loads(line)))
    except (ValueError, AttributeError, ValidationError):
        return None


def now() -> datetime:
    """The time of day with its offset, for the record."""
    return datetime.now(timezone.utc).astimezone()


def read_record(folder: Path) -> list[Attempt]:
    """The attempts kept in a folder; a last line cut short by a power failure is passed over."""
    path = folder / RECORD_FILE
    if not path.exists():
        return []
    attempts = []
    try:
        lines = path.read_bytes().splitlines()
    except OSError as error:
        raise UserError(f"record {path} cannot be read: {error.strerror}") from error
    for number, line in enumerate(lines, start=1):
        try:
            attempts.append(Attempt.model_validate(migrated(json.loads(line))))
        except NewerVersionError as error:
            raise UserError(f"record {path}, line {number}: {error}") from error
        except (ValueError, AttributeError, ValidationError) as error:
            if number == len(lines):
                break
            raise UserError(f"record {path}, line {number} is damaged") from error
    return attempts


def is_session(folder: Path) -> bool:
    """Whether a folder is a session's."""
    return (folder / SET_UP_FILE).is_file()


def default_folder(base: Path = Path("sessions")) -> Path:
    """A new folder named by date and time."""
    return base / now().strftime("%Y-%m-%d-%H%M%S")
