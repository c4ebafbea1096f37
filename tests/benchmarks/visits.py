"""Rendered visits to a mark, with exact truth (see `samples/rendering/visits.py`)."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from assist.base.images import ColourImage
from assist.pose import Pose
from assist.review.blur import compression
from assist.review.blur.compression import Compression
from assist.review.measuring_places import Box, EyeRegion, eye_region
from optics.camera import PinholeCamera
from optics.checks import FloatArray
from tests.benchmarks import detections


@dataclass(frozen=True)
class SetUp:
    """The lens as it is stated, and where it is really focused for one person.

    stated_m: from the sensor.   focus_from_lens_m: the truth.
    """

    name: str
    focal_length_m: float
    f_number: float
    stated_m: float
    focus_from_lens_m: float

    def blur_px(self, depth_m: float, width_px: int = 6000, sensor_width_m: float = 0.036) -> float:
        """Diameter of the blur of a point that far from the lens."""
        f, s = self.focal_length_m, self.focus_from_lens_m
        blur_m = f * f * abs(depth_m - s) / (self.f_number * depth_m * (s - f))
        return blur_m / sensor_width_m * width_px


@dataclass(frozen=True)
class Crop:
    """The head out of a picture of the taking camera.

    box, eyes: of the crop, and of the part of it that is rendered in full, in the whole picture.
    eyes_px: (2, 2) left and right eye in the crop.   eyes_blur_px: true blur of each.
    """

    file: Path
    width_px: int
    height_px: int
    box: Box
    eyes: Box
    eyes_px: FloatArray
    eyes_blur_px: tuple[float, float]

    @property
    def blur_px(self) -> float:
        """True blur diameter, mean of both eyes."""
        return sum(self.eyes_blur_px) / 2

    def region(self, pose: Pose) -> EyeRegion | None:
        """The eyes in the whole picture as the review finds them; `pose` was found in the feed."""
        scale = self.width_px / pose.width_px
        down = (self.height_px - pose.height_px * scale) / 2 / scale
        moved = Pose(
            pose.image_px + np.array([0.0, down]), pose.world_m, pose.visibility,
            pose.width_px, pose.height_px + round(2 * down),
        )  # fmt: skip
        return eye_region(moved, scale, self.width_px, self.height_px)

    def to_measure(
        self, region: EyeRegion
    ) -> tuple[ColourImage, np.ndarray[Any, np.dtype[np.bool_]], Compression | None]:
        """What is rendered in full of a region's surroundings: picture, eyes' mask, compression."""
        part = self.eyes
        inset = 8  # where it passes into the enlarged feed
        left, top = max(region.around.left, part.left + inset), part.top + inset
        top = max(region.around.top, top)
        right = min(region.around.right, part.right - inset)
        bottom = min(region.around.bottom, part.bottom - inset)
        whole: ColourImage | None = cv2.imread(str(self.file))  # type: ignore[assignment]
        assert whole is not None
        x, y = left - self.box.left, top - self.box.top
        picture = whole[y : bottom - self.box.top, x : right - self.box.left]
        a = region.around
        mask = region.mask()[top - a.top : bottom - a.top, left - a.left : right - a.left]
        with Image.open(self.file) as file:
            packed = compression.of_file(file)
        return picture, mask, None if packed is None else packed.of_part(x, y)


@dataclass(frozen=True)
class Visit:
    """One person at one moment: the feed's picture, the taking camera's crop, and the truth.

    number: -1 for the reference.   turned_deg, nodded_deg, tilted_deg: of the head, to the person's
        left, down and to their left, from looking into the lens.   off_lens_deg: angle between
        where the head points and the lens.   eyes_m: depth between the eyes, from the lens.
    crop: None where it is not rendered.
    pose: as the detector finds it in the feed, one still shown for long.
    """

    name: str
    set_up: SetUp
    person: str
    stature_m: float
    number: int
    posture: str
    light: str
    turned_deg: float
    nodded_deg: float
    tilted_deg: float
    off_lens_deg: float
    eyes_m: float
    camera: PinholeCamera
    feed: Path
    crop: Crop | None
    pose: Pose | None


@dataclass(frozen=True)
class Visits:
    """A reference of one person and set-up, and the visits that are there by now."""

    set_up: SetUp
    person: str
    reference: Visit
    visits: tuple[Visit, ...]


def _box(sides: list[int]) -> Box:
    return Box(*sides)


def _visit(record: dict[str, Any], folder: Path, cache: Path) -> Visit:
    spec = record["camera"]
    width, height = spec["image_width_px"], spec["image_height_px"]
    camera = PinholeCamera(
        width, height, spec["fx_px"], spec["fy_px"], spec["cx_px"], spec["cy_px"]
    )  # fmt: skip
    set_up = SetUp(
        record["set_up"],
        record["lens_mm"] / 1000,
        record["f_number"],
        record["stated_from_sensor_m"],
        record["focus_from_lens_m"],
    )
    left, right = record["blur_px"]
    crop = Crop(
        folder / record["crop_file"],
        record["picture_px"][0],
        record["picture_px"][1],
        _box(record["crop_box_px"]),
        _box(record["eyes_box_px"]),
        np.array(record["eyes_in_crop_px"]),
        (left, right),
    )
    feed = folder / record["feed_file"]
    return Visit(
        record["name"],
        set_up,
        record["person"],
        record["stature_m"],
        record["visit"],
        record["posture"],
        record["light"],
        record["turned_deg"],
        record["nodded_deg"],
        record["tilted_deg"],
        record["off_lens_deg"],
        record["eye_mid_m"][2],
        camera,
        feed,
        crop if crop.file.exists() else None,
        detections.of_picture(feed, cache),
    )


def load(folder: Path, cache: Path | None = None) -> Iterator[Visits]:
    """Everybody of whom there are a reference and a visit; the rest is still being rendered."""
    lines = (folder / "truth.jsonl").read_text(encoding="utf-8").splitlines()
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for record in map(json.loads, lines):
        groups.setdefault((record["set_up"], record["person"]), []).append(record)
    for records in groups.values():
        found = [_visit(r, folder, cache or folder / "detections") for r in records]
        references = [v for v in found if v.number < 0]
        visits = tuple(v for v in found if v.number >= 0)
        if references and visits:
            yield Visits(references[0].set_up, references[0].person, references[0], visits)
