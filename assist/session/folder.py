"""A session's folder: the set-up used, the pictures, and a record of every attempt.

The record is a journal (`assist.base.journal`). Every line carries the version of its layout;
older ones are brought up to date as they are read, and never rewritten.
"""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Callable
from datetime import datetime, timezone
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from assist.base import journal
from assist.base.closing import Closing
from assist.base.errors import UserError, shown
from assist.base.files import write_whole
from assist.base.journal import JournalWriter, NewerVersionError
from assist.base.reading import MOST_TOML_BYTES, parse_json, read_bytes
from assist.base.words import _, current
from assist.guidance.assistant import Moment
from assist.session.lock import FolderLock
from assist.setup import set_up as set_up_files
from assist.setup.set_up import SetUp
from optics.focus_zone import FocusZone

RECORD_FILE = "record.jsonl"
SET_UP_FILE = "set-up.toml"
PROFILE_FILE = "profile.toml"
FEED_PROFILE_FILE = "feed-profile.toml"
VERSION: Literal[2] = 2
_PICTURE = re.compile(r"picture-(\d{4,9})[-.]")


_FARTHEST_M = 1e6
_SAME = 1e-3
"""Relative difference that feet and inches make of metres."""
Metres = Annotated[float, Field(ge=-_FARTHEST_M, le=_FARTHEST_M, allow_inf_nan=False)]
Number = Annotated[int, Field(ge=0, le=1_000_000_000)]
_Plain = str | int | float | bool | None


class OneOfSeveral(BaseModel):
    """One of several people in the picture. Distances are in metres from the sensor plane.

    place: where they stand, from 1 at the left of the mirrored screen.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    place: Number
    stature_m: Metres | None
    verdict: str
    distance_m: Metres | None
    standard_deviation_m: Metres | None
    p_in_focus: Annotated[float, Field(ge=0, le=1)]
    to_mark_m: Metres | None
    framing: str | None
    cut: tuple[str, ...] = ()


class Attempt(BaseModel):
    """One line of the record. Distances are in metres from the sensor plane.

    people: each of several; verdict and probability are then of all, the distance that of whoever
    was told what to do.

    late_s: how much later than zero the shutter was released, where that is known; distance and
    verdict are of that moment.   further: other files of the picture, such as the raw beside the
    JPEG.   exit_code: that of a command of the user's that fired.   on_card: the picture's path on
    the camera's card, for a tethered camera.
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
    further: tuple[str, ...] = ()
    late_s: Annotated[float, Field(allow_inf_nan=False, ge=0)] = 0.0
    problem: str = ""
    exit_code: int | None = None
    on_card: str = ""
    people: tuple[OneOfSeveral, ...] = ()
    set_up: dict[str, _Plain | dict[str, _Plain | list[str] | list[float]]]


def _from_1(line: dict[str, Any]) -> dict[str, Any]:
    """Version 2 added the exit code of a command and the place on the card."""
    return {**line, "version": 2, "exit_code": None, "on_card": ""}


_MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _from_1}
"""From each older version to the next."""


def migrated(line: dict[str, Any]) -> dict[str, Any]:
    """A line of any version so far, in the layout of this one."""
    version = line.get("version", 1)
    if not isinstance(version, int) or version < 1:
        raise ValueError(_("version {version} cannot be", version=shown(version)))
    if version > VERSION:
        raise NewerVersionError(
            _("version {version} is newer than this program knows", version=shown(version))
        )
    while version != VERSION:
        line = _MIGRATIONS[version](line)
        version = line["version"]
    return line


class Session(Closing):
    """An open session folder; appends to its record, each line whole and on the disk at once.

    One run at a time may have it open. A context manager; closing lets the next one in. All
    attempts of a session are of one lens, aperture, focus distance and sensor; with others a
    UserError says so.
    """

    def __init__(self, folder: Path, set_up: SetUp) -> None:
        self.folder = folder
        self._set_up = set_up.without_secrets
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UserError(
                _(
                    "cannot make session folder {folder}: {why}",
                    folder=folder,
                    why=error.strerror,
                )
            ) from error
        self._lock = FolderLock(folder)
        try:
            self._record = JournalWriter(folder / RECORD_FILE, _attempt)
            record = read_record(folder)
            _check_same_optics(folder, record, set_up)
            numbers = (a.attempt for a in record)
            self.next_attempt = 1 + max((*numbers, *_pictures(folder)), default=0)
            self._save_set_up()
        except BaseException:
            self.close()
            raise

    def _save_set_up(self) -> None:
        try:
            set_up_files.save(self._set_up, self.folder / SET_UP_FILE)
        except UserError as error:
            reason = getattr(error.__cause__, "strerror", None) or error
            raise UserError(
                _(
                    "session folder {folder} cannot be written to: {reason}",
                    folder=self.folder,
                    reason=reason,
                )
            ) from error

    def keep_profiles(self, personal: Path | None, feed: Path | None) -> None:
        """Keep copies of the profiles that the run uses, so that it can be repeated elsewhere.

        Raises UserError when one cannot be read.
        """
        for profile, name in ((personal, PROFILE_FILE), (feed, FEED_PROFILE_FILE)):
            if profile is None or profile.resolve() == (self.folder / name).resolve():
                continue
            content = read_bytes(profile, _("profile {profile}", profile=profile), MOST_TOML_BYTES)
            write_whole(self.folder / name, content)

    def append(self, attempt: Attempt) -> None:
        """Add a line to the record.

        Raises OSError when the disk does not take it; the record is then as before, and the line is
        tried again with the next one and by `settle`.
        """
        self.next_attempt = max(self.next_attempt, attempt.attempt + 1)
        self._record.hold(attempt.model_dump_json())
        if self._deleted():
            self._make_again()
        self._record.write()

    def look_after(self) -> bool:
        """Make the folder again if it was deleted, with what this run knows; whether it was.

        Raises OSError when that fails.
        """
        if not self._deleted():
            return False
        self._make_again()
        self._record.write()
        return True

    def _deleted(self) -> bool:
        # A picture may have made the folder again already, but never these.
        return self._record.gone or not (self.folder / SET_UP_FILE).exists()

    def settle(self) -> Path | None:
        """Write what could not be written so far; elsewhere, if need be, and then say where.

        Raises UserError when it can be written nowhere.
        """
        with contextlib.suppress(OSError):
            if self._deleted():
                self._make_again()
        return self._record.settle()

    def _make_again(self) -> None:
        """The folder was deleted while it was in use: make it anew, with what this run knows."""
        self.folder.mkdir(parents=True, exist_ok=True)
        self._lock.renew()
        with contextlib.suppress(UserError):
            self._save_set_up()

    def close(self) -> None:
        """Let another run have the folder; safe to call twice."""
        self._lock.close()


def _check_same_optics(folder: Path, record: list[Attempt], set_up: SetUp) -> None:
    """UserError where the session's last attempt was with another zone than the set-up's."""
    differing = unlike(record[-1], set_up) if record else []
    if differing:
        then, now = (", ".join(words) for words in zip(*differing, strict=True))
        raise UserError(
            _(
                "session {folder} is one of {then}, and this run has {now}: give it a session of "
                "its own, such as --session {folder}-2",
                folder=folder,
                then=then,
                now=now,
            )
        )


def unlike(attempt: Attempt, set_up: SetUp) -> list[tuple[str, str]]:
    """What makes the attempt's zone another than the set-up's: in words, the attempt's and its."""
    try:
        before = set_up_files.from_values(attempt.set_up)
    except UserError:  # a record that does not tell, or that only a newer program can read
        return []
    return [
        (then, now)
        for (value, then), (wanted, now) in zip(_optics(before), _optics(set_up), strict=True)
        if not math.isclose(value, wanted, rel_tol=_SAME)
    ]


def _optics(set_up: SetUp) -> tuple[tuple[float, str], ...]:
    """What decides where the zone lies, each with its words."""
    lens, say = set_up.lens, current()
    return (
        (lens.focal_length_mm, f"{say.decimal(f'{lens.focal_length_mm:g}')} mm"),
        (lens.f_number, f"f/{say.decimal(f'{lens.f_number:g}')}"),
        (
            lens.focus_distance_m,
            _("focus at {distance} m", distance=say.decimal(f"{lens.focus_distance_m:g}")),
        ),
        (set_up.sensor.diagonal_m, _("sensor {sensor}", sensor=set_up.camera.sensor)),
    )


def _attempt(line: bytes) -> Attempt:
    """One line of the record; ValueError, which includes pydantic's, where it is damaged."""
    values = parse_json(line)
    if not isinstance(values, dict):
        raise ValueError(_("not an object"))
    return Attempt.model_validate(migrated(values))


def _pictures(folder: Path) -> list[int]:
    """The numbers of the pictures there; one whose line was lost must not be written over."""
    found = (_PICTURE.match(path.name) for path in folder.iterdir())
    return [int(match[1]) for match in found if match]


def plausible_m(length_m: float | None) -> float | None:
    """The length, None where it is no number that a record takes: firing must not fail for it."""
    return length_m if length_m is not None and abs(length_m) <= _FARTHEST_M else None


def now() -> datetime:
    """The time of day with its offset, for the record."""
    return datetime.now(timezone.utc).astimezone()


def people_of(moment: Moment, zone: FocusZone) -> tuple[OneOfSeveral, ...]:
    """Each of several people at a moment; nobody where there is only one."""
    group = moment.group
    found: list[OneOfSeveral] = []
    for one in () if group is None else group.members:
        distance = one.assessment.distance
        eyes_m = None if distance is None else zone.from_sensor_m(distance.eyes_m)
        found.append(
            OneOfSeveral(
                place=one.place,
                stature_m=one.stature_m,
                verdict=one.assessment.verdict.value,
                distance_m=plausible_m(eyes_m),
                standard_deviation_m=None if distance is None else plausible_m(distance.sd_m),
                p_in_focus=one.assessment.p_in_focus,
                to_mark_m=plausible_m(one.guidance.to_mark_m),
                framing=None if one.framing is None else one.framing.shows,
                cut=() if one.framing is None else one.framing.cut,
            )
        )
    return tuple(found)


def read_record(folder: Path) -> list[Attempt]:
    """The attempts kept in a folder; a last line cut short by a power failure is passed over."""
    return journal.read(folder / RECORD_FILE, _attempt)


def is_session(folder: Path) -> bool:
    """Whether a folder is a session's."""
    return (folder / SET_UP_FILE).is_file()
