"""The lens, sensor and sharpness criterion that a picture is judged by.

The picture's own tags say how the lens was set for it; the set-up says what tags do not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.base.units import parse_length_m
from assist.base.words import _, current
from assist.review.sentence import Sentence
from assist.review.tags import PictureTags
from assist.setup.set_up import CameraPart, SetUp, criterion_from_text
from optics import lens as thin_lens
from optics import sharpness_criterion
from optics.errors import ImpossibleValueError
from optics.lens import DepthOfField
from optics.sensor import FORMATS, Sensor
from optics.sharpness_criterion import SharpnessCriterion

DEFAULT_CRITERION = "diagonal/1500"
DEFAULT_PRINT = "print 10 cm from 40 cm"
PRINT_VIEWED_FROM_M = 0.4


@dataclass(frozen=True, slots=True)
class TakenWith:
    """What one picture was taken with, as far as known, and what it is judged by.

    sensor_known: whether the sensor's size is known; without it blur in millimetres is not.
    focus_m: distance of the plane of focus from the lens.   offset_m: sensor plane to lens.
    limit_px: the criterion's circle of confusion in pixels of the picture.
    print_limit_px: the same for the print size asked for.
    notes: where tags and set-up disagree.
    """

    sensor: Sensor
    sensor_known: bool
    focal_length_m: float | None
    f_number: float | None
    focus_m: float | None
    offset_m: float
    criterion: SharpnessCriterion
    print_criterion: SharpnessCriterion
    pixel_pitch_m: float
    notes: tuple[str, ...] = ()

    @property
    def limit_px(self) -> float:
        """Largest blur that counts as sharp, pixels."""
        return self.criterion.circle_of_confusion_m / self.pixel_pitch_m

    @property
    def print_limit_px(self) -> float:
        """Largest blur that is not seen in the print asked for, pixels."""
        return self.print_criterion.circle_of_confusion_m / self.pixel_pitch_m

    @property
    def zone(self) -> DepthOfField | None:
        """The focus zone, from the lens, where lens and focus distance are known."""
        if self.focal_length_m is None or self.f_number is None or self.focus_m is None:
            return None
        try:
            return thin_lens.depth_of_field(
                self.focal_length_m,
                self.f_number,
                self.focus_m,
                self.criterion.circle_of_confusion_m,
            )
        except ImpossibleValueError:
            return None


def taken_with(
    tags: PictureTags,
    width_px: int,
    height_px: int,
    set_up: SetUp | None,
    criterion: str | None = None,
    print_size: str = DEFAULT_PRINT,
    crop: float = 1.0,
) -> TakenWith:
    """Put tags and set-up together. Raises ValueError when a criterion cannot be read.

    crop: width of the sensor over the width that the picture shows.
    """
    whole, known = _sensor(tags, set_up)
    sensor = Sensor(whole.width_m / crop, whole.height_m / crop)
    pitch_m = sensor.pixel_pitch_m(width_px, height_px)
    long_px, short_px = max(width_px, height_px), min(width_px, height_px)
    shown = Sensor(long_px * pitch_m, short_px * pitch_m)
    camera = CameraPart(sensor=_size_text(sensor), picture_width_px=long_px)  # type: ignore[call-arg]
    text = criterion or (set_up.sharpness.criterion if set_up else DEFAULT_CRITERION)
    # A diagonal is the sensor's, as when the shot was planned; prints and pixels are the picture's.
    by_sensor = text.strip().lower().startswith("diagonal")
    chosen = criterion_from_text(text, whole if by_sensor else shown, camera)
    for_print = criterion_from_text(print_size, shown, camera)
    focal_mm, f_number = tags.focal_length_mm, tags.f_number
    notes = []
    focus_sensor_m = tags.focus_distance_m
    if set_up is not None:
        lens = set_up.lens
        if focal_mm is not None and abs(focal_mm / lens.focal_length_mm - 1) > 0.06:
            notes.append(_unlike(f"{focal_mm:g} mm", f"{lens.focal_length_mm:g} mm"))
        if f_number is not None and abs(math.log2(f_number / lens.f_number)) > 1 / 6:
            notes.append(_unlike(f"f/{f_number:g}", f"f/{lens.f_number:g}"))
        focal_mm = focal_mm or lens.focal_length_mm
        f_number = f_number or lens.f_number
        focus_sensor_m = lens.focus_distance_m
    focal_m = None if focal_mm is None else focal_mm / 1000
    focus_m, offset_m = None, 0.0
    if focal_m is not None and focus_sensor_m is not None and focus_sensor_m >= 4 * focal_m:
        focus_m = float(thin_lens.sensor_to_lens_distance_m(focal_m, focus_sensor_m))
        offset_m = focus_sensor_m - focus_m
    return TakenWith(
        sensor,
        known,
        focal_m,
        f_number,
        focus_m,
        offset_m,
        chosen,
        for_print,
        pitch_m,
        tuple(notes),
    )


def _unlike(taken: str, stated: str) -> Sentence:
    return Sentence(
        lambda: _(
            "taken at {taken}, where the set-up says {stated}",
            taken=current().decimal(taken),
            stated=current().decimal(stated),
        )
    )


def _sensor(tags: PictureTags, set_up: SetUp | None) -> tuple[Sensor, bool]:
    if set_up is not None:
        return set_up.sensor, True
    if tags.sensor is not None:
        return tags.sensor, True
    return FORMATS["full-frame"], False


def _size_text(sensor: Sensor) -> str:
    return f"{sensor.width_m * 1000:.6f}x{sensor.height_m * 1000:.6f}"


def largest_print_m(width_px: float, picture_long_px: int) -> float:
    """Width of the largest print, seen from 40 cm, in which a blur of that width is not seen."""
    spot_m = PRINT_VIEWED_FROM_M * math.tan(sharpness_criterion.ACUITY_RAD)
    return spot_m * picture_long_px / max(width_px, 1.0)


def print_text(text: str) -> str:
    """`30 cm` or `30 cm from 50 cm` as a criterion; ValueError when it is neither."""
    words = text.strip().removeprefix("print").strip()
    width, _, distance = words.partition(" from ")
    parse_length_m(width)
    parse_length_m(distance or "40 cm")
    return f"print {width} from {distance or '40 cm'}"


def depths_for_blur_m(
    focal_length_m: float, f_number: float, focus_m: float, blur_m: float
) -> tuple[float, float]:
    """Depths in front of and behind the plane of focus at which a point is blurred that much.

    The inverse of b = f^2 |z - s| / (N z (s - f)): z = s / (1 + k) and s / (1 - k) with
    k = b N (s - f) / f^2; infinity where the blur is more than any distance behind gives.
    """
    k = blur_m * f_number * (focus_m - focal_length_m) / focal_length_m**2
    return focus_m / (1 + k), (math.inf if k >= 1 else focus_m / (1 - k))
