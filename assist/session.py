"""A session's folder: the set-up used, the pictures, and a record of every attempt.

The record is a journal (`assist.journal`). Every line carries the version of its layout; older ones
are brought up to date as they are read, and never rewritten.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime, timezone
from pathlib import Path
from types import TracebackType
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from assist import journal, session_lock
from assist import set_up as set_up_files
from assist.errors import UserError, shown
from assist.files import write_whole
from assist.journal import NewerVersionError
from assist.reading import (
    MOST_TOML_BYTES,
    parse_json,
    read_bytes,
)
from assist.set_up import SetUp

RECORD_FILE = "record.jsonl"
SET_UP_FILE = "set-up.toml"
PROFILE_FILE = "profile.toml"
FEED_PROFILE_FILE = "feed-profile.toml"
VERSION: Literal[2] = 2


_FARTHEST_M = 1e6
Metres = Annotated[float, Field(ge=-_FARTHEST_M, le=_FARTHEST_M, allow_inf_nan=False)]
Number = Annotated[int, Field(ge=0, le=1_000_000_000)]
_Plain = str | int | float | bool | None


class Attempt(BaseModel):
    """One line of the record. Distances are in metres from the sensor plane.

    exit_code: that of a command of the user's that fired.   on_card: the picture's path on the
    camera's card, for a tethered camera.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    version: Literal[2] = VERSION
    attempt: Number
    taken_at: datetime
    feed: str
    feed_time_s: Annotated[float, Field(allow_inf_nan=False)]
    verdict: str
    distance_m: Metres | None
    standard_deviation_m: Metres | None
    p_in_focus: Annotated[float, Field(ge=0, le=1)]
    to_mark_m: Metres | None
    guidance: str
    framing: str | None
    cut: tuple[str, ...] = ()
    trigger: str
    picture: str | None
    problem: str = ""
    exit_code: int | None = None
    on_card: str = ""
    set_up: dict[str, _Plain | dict[str, _Plain]]

    @field_validator("picture")
    @classmethod
    def _is_in_the_folder(cls, name: str | None) -> str | None:
        """A picture lies in the session's folder: a record must not point anywhere else."""
        if name is not None and (name in ("", ".", "..") or set(name) & set("/\\\0")):
            raise ValueError(f"picture {name!r} is not the name of a file in the folder")
        return name


def _from_1(line: dict[str, Any]) -> dict[str, Any]:
    """Version 2 added the exit code of a command and the place on the card."""
    return {**line, "version": 2, "exit_code": None, "on_card": ""}


_MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _from_1}
"""From each older version to the next."""


def migrated(line: dict[str, Any]) -> dict[str, Any]:
    """A line of any version so far, in the layout of this one."""
    version = line.get("version", 1)
    if not isinstance(version, int) or version < 1:
        raise ValueError(f"version {shown(version)} cannot be")
    if version > VERSION:
        raise NewerVersionError(f"version {shown(version)} is newer than this program knows")
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
            journal.mend(folder / RECORD_FILE, _attempt)
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
            content = read_bytes(profile, f"profile {profile}", MOST_TOML_BYTES)
            write_whole(self.folder / name, content)

    def append(self, attempt: Attempt) -> None:
        """Add a line to the record. Raises OSError when the disk does not take it."""
        journal.append(self.folder / RECORD_FILE, [attempt.model_dump_json()])
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


def _attempt(line: bytes) -> Attempt:
    """One line of the record; ValueError, which includes pydantic's, where it is damaged."""
    values = parse_json(line)
    if not isinstance(values, dict):
        raise ValueError("not an object")
    return Attempt.model_validate(migrated(values))


def plausible_m(length_m: float | None) -> float | None:
    """The length, None where it is no number that a record takes: firing must not fail for it."""
    return length_m if length_m is not None and abs(length_m) <= _FARTHEST_M else None


def now() -> datetime:
    """The time of day with its offset, for the record."""
    return datetime.now(timezone.utc).astimezone()


def read_record(folder: Path) -> list[Attempt]:
    """The attempts kept in a folder; a last line cut short by a power failure is passed over."""
    return journal.read(folder / RECORD_FILE, _attempt)


def is_session(folder: Path) -> bool:
    """Whether a folder is a session's."""
    return (folder / SET_UP_FILE).is_file()


def default_folder(base: Path = Path("sessions")) -> Path:
    """A new folder named by date and time."""
    return base / now().strftime("%Y-%m-%d-%H%M%S")
