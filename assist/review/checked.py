"""What a review says about one picture: plain values, for the report, for CSV and for JSON."""

from __future__ import annotations

from datetime import datetime
from enum import Enum
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, field_validator

from assist.review.sentence import Text


class Sharpness(Enum):
    """The verdict on the eyes."""

    SHARP = "sharp"
    ACCEPTABLE = "acceptable at this print size"
    SOFT = "soft"
    NOT_SURE = "not sure"


class Cause(Enum):
    """What blurred the eyes."""

    NONE = "none"
    FRONT_FOCUS = "focus in front of the eyes"
    BACK_FOCUS = "focus behind the eyes"
    DEFOCUS = "out of focus"
    MOTION = "you moved"
    SHAKE = "the camera moved"
    MOTION_OR_SHAKE = "movement, yours or the camera's"
    UNKNOWN = "not to be told from the picture"


MOVEMENT = frozenset({Cause.MOTION, Cause.SHAKE, Cause.MOTION_OR_SHAKE})


_Number = Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]
_Count = Annotated[int, Field(ge=0, le=1_000_000_000)]


class CheckedPicture(BaseModel):
    """One reviewed picture. Distances are in metres from the sensor plane, None where unknown.

    Words are English, as files keep them; `sentence.told` tells them in other languages.

    problem, why, change, notes: why it cannot be read, the verdict's reason, what to change, more.

    blur_px, blur_sd_px: width of the blur at the eyes and its standard deviation; the diameter of
        the disc that spreads as much.   blur_mm: the same on the sensor.
    limit_px: the width that still counts as sharp.
    print_size, print_limit_px: the print that was asked for, and the width that is not seen in it.
    p_sharp: probability that the true width is within the limit.
    smear_px, smear_deg: length and direction of a movement that was found.
    largest_print_cm: width of the largest print, seen from 40 cm, in which the blur is not seen.
    distance_m, distance_sd_m: where the eyes were, estimated from the picture.
    distance_from_blur_m: where they were if the blur is all defocus, on the side that is known.
    attempt: the line of the record that it belongs to.
    rank, of: place in its burst, 1 the best.
    """

    model_config = ConfigDict(frozen=True)

    file: str
    problem: Text = ""
    verdict: str = Sharpness.NOT_SURE.value
    why: Text = ""
    change: Text = ""
    cause: str = Cause.UNKNOWN.value
    blur_px: _Number | None = None
    blur_sd_px: _Number | None = None
    blur_mm: _Number | None = None
    limit_px: _Number | None = None
    limit_mm: _Number | None = None
    criterion: str = ""
    print_limit_px: _Number | None = None
    print_size: str = ""
    p_sharp: _Number | None = None
    smear_px: _Number | None = None
    smear_deg: _Number | None = None
    edges: _Count = 0
    largest_print_cm: _Number | None = None
    distance_m: _Number | None = None
    distance_sd_m: _Number | None = None
    distance_from_blur_m: _Number | None = None
    near_m: _Number | None = None
    far_m: _Number | None = None
    focus_m: _Number | None = None
    framing: str | None = None
    cut: tuple[str, ...] = ()
    width_px: _Count = 0
    height_px: _Count = 0
    focal_length_mm: _Number | None = None
    f_number: _Number | None = None
    exposure_s: Annotated[float, Field(ge=1e-9, le=1e9)] | None = None
    iso: _Count | None = None
    taken_at: datetime | None = None
    attempt: _Count | None = None
    clock_offset_s: _Number | None = None
    live_distance_m: _Number | None = None
    live_distance_sd_m: _Number | None = None
    live_verdict: str | None = None
    burst: _Count | None = None
    rank: _Count | None = None
    of: _Count | None = None
    notes: tuple[Text, ...] = ()
    thumbnail: str | None = None
    eyes_crop: str | None = None

    @field_validator("verdict")
    @classmethod
    def _is_a_verdict(cls, word: str) -> str:
        return Sharpness(word).value

    @field_validator("cause")
    @classmethod
    def _is_a_cause(cls, word: str) -> str:
        return Cause(word).value

    @field_validator("thumbnail", "eyes_crop")
    @classmethod
    def _is_beside_the_report(cls, name: str | None) -> str | None:
        """The small pictures lie in the report's folder: a page must not point anywhere else."""
        if name is not None and set(name) & set("/\\\0"):
            raise ValueError("not the name of a file in the folder")
        return name
