"""What a review says about one picture: plain values, for the report, for CSV and for JSON."""

from __future__ import annotations

from datetime import datetime
from enum import Enum

from pydantic import BaseModel, ConfigDict


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


class CheckedPicture(BaseModel):
    """One reviewed picture. Distances are in metres from the sensor plane, None where unknown.

    blur_px, blur_sd_px: width of the blur at the eyes and its standard deviation; the diameter of
        the disc that spreads as much.   blur_mm: the same on the sensor.
    limit_px: the width that still counts as sharp.
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
    problem: str = ""
    verdict: str = Sharpness.NOT_SURE.value
    why: str = ""
    change: str = ""
    cause: str = Cause.UNKNOWN.value
    blur_px: float | None = None
    blur_sd_px: float | None = None
    blur_mm: float | None = None
    limit_px: float | None = None
    limit_mm: float | None = None
    criterion: str = ""
    print_limit_px: float | None = None
    p_sharp: float | None = None
    smear_px: float | None = None
    smear_deg: float | None = None
    edges: int = 0
    largest_print_cm: float | None = None
    distance_m: float | None = None
    distance_sd_m: float | None = None
    distance_from_blur_m: float | None = None
    near_m: float | None = None
    far_m: float | None = None
    focus_m: float | None = None
    framing: str | None = None
    cut: tuple[str, ...] = ()
    width_px: int = 0
    height_px: int = 0
    focal_length_mm: float | None = None
    f_number: float | None = None
    exposure_s: float | None = None
    iso: int | None = None
    taken_at: datetime | None = None
    attempt: int | None = None
    clock_offset_s: float | None = None
    live_distance_m: float | None = None
    live_distance_sd_m: float | None = None
    live_verdict: str | None = None
    burst: int | None = None
    rank: int | None = None
    of: int | None = None
    notes: tuple[str, ...] = ()
    thumbnail: str | None = None
    eyes_crop: str | None = None
