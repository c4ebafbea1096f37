"""A session's folder: the set-up used, the pictures, and a record of every attempt."""

from __future__ import annotations

import json
import os
from datetime import datetime, timezone
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from assist import set_up as set_up_files
from assist.errors import UserError
from assist.set_up import SetUp

RECORD_FILE = "record.jsonl"
SET_UP_FILE = "set-up.toml"


class Attempt(BaseModel):
    """One line of the record. Distances are in metres from the sensor plane."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    version: Literal[1] = 1
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
    set_up: dict[str, Any]


class Session:
    """An open session folder; appends to its record, each line whole and on the disk at once."""

    def __init__(self, folder: Path, set_up: SetUp) -> None:
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UserError(f"cannot make session folder {folder}: {error.strerror}") from error
        if not os.access(folder, os.W_OK):
            raise UserError(f"session folder {folder} cannot be written to: permission denied")
        self.next_attempt = 1 + max((a.attempt for a in read_record(folder)), default=0)
        set_up_files.save(set_up, folder / SET_UP_FILE)

    def append(self, attempt: Attempt) -> None:
        """Add a line to the record. Raises OSError when the disk does not take it."""
        line = attempt.model_dump_json() + "\n"
        with (self.folder / RECORD_FILE).open("ab") as file:
            file.write(line.encode())
            file.flush()
            os.fsync(file.fileno())
        self.next_attempt = attempt.attempt + 1


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
            attempts.append(Attempt.model_validate(json.loads(line)))
        except (ValueError, ValidationError) as error:
            if number == len(lines):
                break
            raise UserError(f"record {path}, line {number} is damaged") from error
    return attempts


def default_folder(base: Path = Path("sessions")) -> Path:
    """A new folder named by date and time."""
    return base / now().strftime("%Y-%m-%d-%H%M%S")
