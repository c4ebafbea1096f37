"""The rendered sweep: pictures of invented bodies with exact truth (see samples/rendering)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assist.pose import Pose
from optics.camera import PinholeCamera
from tests.benchmarks import detections

TUNING_BODIES = frozenset({"w158", "m165", "m186"})
"""Bodies on which constants were set. All the others were looked at only to report."""


@dataclass(frozen=True)
class Shot:
    """One picture: what was asked for, the truth, and what the detector saw."""

    person: str
    stature_m: float
    part: str
    conditions: dict[str, str]
    camera: PinholeCamera
    camera_height_m: float
    tilt_deg: float
    roll_deg: float
    eyes_m: float
    hips_m: float
    axis_m: float
    pose: Pose | None
    lens_m: float = 0.035

    @property
    def tuning(self) -> bool:
        """Whether this body was used to set constants."""
        return self.person in TUNING_BODIES


def _shot(record: dict[str, Any], pose: Pose | None) -> Shot:
    joints = record["joints"]
    axis = [f"{side}_{part}" for side in ("left", "right") for part in ("ear", "shoulder", "hip")]
    width, height = record["camera"]["image_width_px"], record["camera"]["image_height_px"]
    camera = PinholeCamera(width, height, record["fx"], record["fy"], record["cx"], record["cy"])
    turn = abs(round(record["turn_deg"]))
    return Shot(
        person=record["person"],
        stature_m=record["stature_m"],
        part=record["part"],
        conditions={
            "framing": record["framing"].replace("_", " "),
            "posture": record["posture"].replace("_", " "),
            "turned": f"{turn} degrees" + (" (back)" if turn == 180 else ""),
            "light": record["lighting"],
            "lens": f"{record['lens_mm']:.0f} mm",
            "tilt": "level" if abs(record["tilt_deg"]) < 3 else "tilted",
        },
        camera=camera,
        camera_height_m=record["camera_height_m"],
        tilt_deg=record["tilt_deg"],
        roll_deg=record["roll_deg"],
        eyes_m=record["eye_mid"][2],
        hips_m=record["hip_mid"][2],
        axis_m=sum(joints[name][2] for name in axis) / len(axis),
        pose=pose,
        lens_m=record["lens_mm"] / 1000,
    )


def load(folder: Path, cache: Path) -> list[Shot]:
    """All pictures that are there, each with its pose."""
    lines = (folder / "truth.jsonl").read_text(encoding="utf-8").splitlines()
    records = [json.loads(line) for line in lines]
    return [_shot(r, detections.of_picture(folder / r["file"], cache)) for r in records]
