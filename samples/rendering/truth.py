"""The camera as numbers, and the truth that goes with each frame.

Camera frame: x right, y down, z along the optical axis, metres, origin at the lens (thin-lens
plane = entrance pupil). Pixels: x to the right and y down, (0, 0) at the picture's outer corner
(pixel edge), so the principal point is (width / 2, height / 2).
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .body import BODY_VERTICES, PosedBody, RestBody
from .rotation import Array

TRUTH_COLUMNS = (
    "frame",
    "time_s",
    "left_eye_z_m",
    "right_eye_z_m",
    *(f"{point}_{axis}_m" for point in ("eye_mid", "hip_mid") for axis in "xyz"),
    "visible_fraction",
    "phase",
)


@dataclass(frozen=True)
class Camera:
    """A thin-lens camera above the world's origin, looking along +y.

    `focus_m` is what a photographer measures: from the sensor plane to the plane of sharp focus.
    `tilt_rad` looks down when positive; `roll_rad` turns the camera clockwise as seen from behind.
    `yaw_rad` pans to the camera's right when positive.
    """

    width_px: int = 1280
    height_px: int = 720
    lens_mm: float = 35.0
    f_number: float = 2.0
    sensor_width_mm: float = 36.0
    focus_m: float = 4.0
    height_m: float = 1.35
    tilt_rad: float = 0.0
    roll_rad: float = 0.0
    yaw_rad: float = 0.0

    @property
    def focus_from_lens_m(self) -> float:
        """Distance from the lens to the plane of sharp focus, metres."""
        focal, distance = self.lens_mm / 1000.0, self.focus_m
        return (distance + math.sqrt(distance**2 - 4.0 * focal * distance)) / 2.0

    @property
    def image_distance_mm(self) -> float:
        """Distance from the lens to the sensor, millimetres."""
        return (self.focus_m - self.focus_from_lens_m) * 1000.0

    @property
    def focal_px(self) -> float:
        """Focal length in pixels: the image distance over the pixel pitch."""
        return self.image_distance_mm / self.sensor_width_mm * self.width_px

    @property
    def axes(self) -> Array:
        """Rows: the camera's x, y and z axes in world coordinates."""
        level = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
        ct, st = math.cos(self.tilt_rad), math.sin(self.tilt_rad)
        cr, sr = math.cos(self.roll_rad), math.sin(self.roll_rad)
        cy, sy = math.cos(self.yaw_rad), math.sin(self.yaw_rad)
        pan = np.array([[cy, 0.0, -sy], [0.0, 1.0, 0.0], [sy, 0.0, cy]])
        tilt = np.array([[1.0, 0.0, 0.0], [0.0, ct, -st], [0.0, st, ct]])
        roll = np.array([[cr, sr, 0.0], [-sr, cr, 0.0], [0.0, 0.0, 1.0]])
        return roll @ tilt @ pan @ level

    @property
    def position(self) -> Array:
        """The lens in world coordinates, metres."""
        return np.array([0.0, 0.0, self.height_m])

    def to_camera(self, world: Array) -> Array:
        """World points (..., 3) in the camera frame, metres."""
        return (np.asarray(world) - self.position) @ self.axes.T

    def to_world(self, camera: Array) -> Array:
        """Camera-frame points (..., 3) in the world, metres."""
        return np.asarray(camera) @ self.axes + self.position

    def project(self, camera: Array) -> Array:
        """Camera-frame points (..., 3) to pixels (..., 2); only sensible where z > 0."""
        camera = np.asarray(camera)
        centre = np.array([self.width_px / 2.0, self.height_px / 2.0])
        return self.focal_px * camera[..., :2] / camera[..., 2:3] + centre

    def inside(self, camera: Array) -> np.ndarray:
        """Which camera-frame points fall inside the picture."""
        pixels = self.project(np.where(camera[..., 2:3] > 0.05, camera, [[1e6, 1e6, 1.0]]))
        return (
            (pixels[..., 0] >= 0)
            & (pixels[..., 0] < self.width_px)
            & (pixels[..., 1] >= 0)
            & (pixels[..., 1] < self.height_px)
        )


def true_points(camera: Camera, posed: PosedBody) -> dict[str, Array]:
    """Named true points in the camera frame, metres, with eye_mid, hip_mid and so on added."""
    points = {name: camera.to_camera(point) for name, point in posed.points.items()}
    points["eye_mid"] = (points["left_pupil"] + points["right_pupil"]) / 2.0
    points["hip_mid"] = (points["left_hip"] + points["right_hip"]) / 2.0
    return points


def visible_fraction(camera: Camera, body: RestBody, posed: PosedBody) -> float:
    """Share of the bare body's surface area that projects inside the picture (0 to 1).

    What hides what is ignored: this is about the frame's edges.
    """
    quads = body.groups["body"]
    corners = posed.vertices[: BODY_VERTICES[1] + 1][quads]
    area = np.linalg.norm(
        np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]), axis=1
    )
    return float(area @ camera.inside(camera.to_camera(corners.mean(axis=1))) / area.sum())


def truth_row(
    frame: int, time_s: float, points: Mapping[str, Array], visible: float, phase: str
) -> dict[str, str]:
    """One line of the truth file, numbers rounded to 0.1 mm."""
    values: dict[str, float] = {
        "left_eye_z_m": points["left_pupil"][2],
        "right_eye_z_m": points["right_pupil"][2],
    }
    for name in ("eye_mid", "hip_mid"):
        values |= {f"{name}_{axis}_m": points[name][i] for i, axis in enumerate("xyz")}
    row = {name: f"{value:.4f}" for name, value in values.items()}
    return row | {
        "frame": str(frame),
        "time_s": f"{time_s:.3f}",
        "visible_fraction": f"{visible:.3f}",
        "phase": phase,
    }


def write_truth(path: Path, rows: Sequence[Mapping[str, str]]) -> None:
    """Write the truth file, one row per frame."""
    with path.open("w", newline="") as stream:
        writer = csv.DictWriter(stream, TRUTH_COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def camera_record(camera: Camera) -> dict[str, float | int]:
    """The camera's numbers by name, rounded, for JSON."""
    return {
        "image_width_px": camera.width_px,
        "image_height_px": camera.height_px,
        "fx_px": round(camera.focal_px, 3),
        "fy_px": round(camera.focal_px, 3),
        "cx_px": camera.width_px / 2.0,
        "cy_px": camera.height_px / 2.0,
        "focal_length_mm": camera.lens_mm,
        "f_number": camera.f_number,
        "sensor_width_mm": camera.sensor_width_mm,
        "focus_distance_from_sensor_m": camera.focus_m,
        "focus_distance_from_lens_m": round(camera.focus_from_lens_m, 5),
        "image_distance_mm": round(camera.image_distance_mm, 4),
        "camera_height_m": camera.height_m,
        "tilt_down_deg": round(math.degrees(camera.tilt_rad), 4),
        "roll_clockwise_deg": round(math.degrees(camera.roll_rad), 4),
        "pan_right_deg": round(math.degrees(camera.yaw_rad), 4),
    }


def write_json(path: Path, record: object) -> None:
    """Write readable JSON with a final newline."""
    path.write_text(json.dumps(record, indent=2) + "\n")
