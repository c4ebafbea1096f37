"""The personal profile: what standing at a measured mark taught about one body, kept as a file."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import tomlkit
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from assist.base.files import refuse_existing, write_whole
from assist.base.reading import read_toml
from assist.base.validation import validated
from assist.base.words import _

VERSION: Literal[1] = 1
NAME_LETTERS = 200
"""So many letters may a profile's name have."""
Length = Annotated[float, Field(gt=0, lt=3)]
RelativeSd = Annotated[float, Field(gt=0, lt=1)]


class MarkRecord(BaseModel):
    """One mark that the person stood on."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    depth_m: float = Field(gt=0, description="axial depth of the person at the mark, m")
    pictures: int = Field(ge=1, description="pictures used at this mark")
    seconds: float = Field(ge=0, description="time over which they were taken, s")


class PersonalProfile(BaseModel):
    """One body as the pose detector sees it.

    scale is the size of the body over that of the detector's own idea of an adult; distances
    follow it one to one. Segment lengths are between the detector's landmarks.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    version: Literal[1] = Field(default=VERSION, description="version of this file's layout")
    name: str = Field("", max_length=NAME_LETTERS, description="whose profile this is")
    learned_at: AwareDatetime = Field(description="when it was learned")
    method: str = Field("mark", max_length=200, description="how it was learned")
    scale: float = Field(gt=0.3, lt=2, description="size over the detector's own adult")
    scale_sd: RelativeSd = Field(description="relative standard deviation of the scale")
    head: float = Field(1.0, gt=0.5, lt=2, description="size of the head over the adult mean")
    head_sd: RelativeSd | None = Field(
        None, description="its relative standard deviation; absent where it was not learned"
    )
    face: float | None = Field(
        None, gt=0.5, lt=2, description="size of the face over the adult mean; absent: not learned"
    )
    face_sd: RelativeSd | None = Field(None, description="its relative standard deviation")
    segments_m: dict[str, Length] = Field(
        default_factory=dict, description="lengths between the detector's landmarks, m"
    )
    segments_sd_m: dict[str, Length] = Field(
        default_factory=dict, description="standard deviation of each length, m"
    )
    marks: tuple[MarkRecord, ...] = Field((), description="the marks stood on")


def to_toml(profile: PersonalProfile) -> str:
    """The file's text, each field with a comment saying what it means."""
    document = tomlkit.document()
    document.add(tomlkit.comment("A personal profile of the self-portrait assistant."))
    values = profile.model_dump()
    for name, field in PersonalProfile.model_fields.items():
        value = values[name]
        if isinstance(value, dict):
            table = tomlkit.table()
            table.comment(str(field.description))
            for key, number in value.items():
                table.add(key, round(number, 4))
            document.add(name, table)
        elif name == "marks":
            marks = tomlkit.aot()
            for mark in value:
                marks.append(tomlkit.item(mark))
            document.add(name, marks)
        elif value is not None:
            rounded = round(value, 5) if isinstance(value, float) else value
            document.add(name, tomlkit.item(rounded).comment(str(field.description)))
    return str(tomlkit.dumps(document))


def load(path: Path) -> PersonalProfile:
    """Read and check a profile; UserError in one line if it cannot be used."""
    what = _("profile {path}", path=path)
    return validated(PersonalProfile, read_toml(path, what), what, newest=VERSION)


def save(profile: PersonalProfile, path: Path, *, replace: bool = False) -> None:
    """Write the file whole or not at all; an existing one only when told to replace it."""
    refuse_existing(path, replace)
    write_whole(path, to_toml(profile).encode())


def now() -> datetime:
    """The time of day with its offset."""
    return datetime.now().astimezone().replace(microsecond=0)
