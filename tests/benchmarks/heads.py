"""Distance from the faces of real heads: `python -m tests.benchmarks.heads --data FOLDER`.

Scanned heads (`scanned_heads`) drawn at known distances, through the face network and the face cue,
which takes each for an adult's of unknown stature. The size of a face differs from person to person
and is in the stated interval; what is left once it is taken out must not drift with the distance.
Beside them the rendered bodies used for tuning, whose sizes were fitted in the same way.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from assist.distance.face_size import ADULT_FACE_M, PUPIL_AHEAD_M, look_at
from assist.pose.litert_face import LiteRtFaceFinder
from assist.setup.body import FACE_SD, Person
from optics.camera import PinholeCamera
from optics.checks import FloatArray
from tests.benchmarks.scanned_heads import ScannedHead, heads
from tests.benchmarks.sweep import load
from tests.benchmarks.tables import keep, table

CAMERA = PinholeCamera.from_focal_length_px(1400.0, 1280, 960)
DISTANCES_M = (0.8, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
YAWS_DEG = (-20.0, 0.0, 20.0)
_SQUARE_M = 0.17
"""Half-side of the square in which the face is looked for."""
_FRONT_RAD = 0.9
HEADER = (
    "face", "outer corners of the eyes", "size of the mesh", "over an adult's of that stature",
    "pupils ahead", "error at 1 m", "at 4 m", "left when the size is known, at 1 m",
)  # fmt: skip


def of_head(head: ScannedHead, finder: LiteRtFaceFinder, pictures: Path | None) -> FloatArray:
    """(n, 2) true depth of the eyes and the depth over the size of the face, pupils at corners."""
    found = []
    for yaw_deg in YAWS_DEG:
        for eyes_m in DISTANCES_M:
            picture = head.seen(CAMERA, eyes_m, yaw_deg)
            half_px = _SQUARE_M * CAMERA.fx_px / eyes_m
            middle = np.array([CAMERA.cx_px, CAMERA.cy_px + 0.15 * half_px])
            face = finder.find(picture, middle, half_px)
            if pictures is not None:
                pictures.mkdir(parents=True, exist_ok=True)
                name = f"{head.name.replace(' ', '-')}_{eyes_m:g}m_{yaw_deg:+.0f}.png"
                cv2.imwrite(str(pictures / name), picture)
            view = None if face is None else look_at(face, CAMERA)
            if view is not None:
                found.append((eyes_m, view.eyes_per_face + PUPIL_AHEAD_M / ADULT_FACE_M))
    return np.array(found)


def _fitted(found: FloatArray) -> tuple[float, float]:
    """Size of the face and how far the pupils are ahead, metres: relative errors, outliers less."""
    matrix = np.stack([found[:, 1], np.ones(len(found))], axis=1) / found[:, :1]
    weight = np.ones(len(found))
    size = ahead = 0.0
    for _ in range(10):
        size, ahead = np.linalg.lstsq(matrix * weight[:, None], weight, rcond=None)[0]
        left = np.abs(matrix @ (size, ahead) - 1)
        weight = np.sqrt(np.minimum(1.0, 0.015 / np.maximum(left, 1e-6)))
    return float(size), float(-ahead)


def row(name: str, outer_m: float | None, found: FloatArray, usual: float) -> list[str]:
    """Cells under HEADER; usual: size that is assumed over that of the adult mean."""
    size_m, ahead_m = _fitted(found)
    assumed_m = ADULT_FACE_M * usual

    def read(eyes_m: float, by_size_m: float) -> float:
        """What is read for that true depth."""
        return by_size_m * (eyes_m + ahead_m) / size_m - PUPIL_AHEAD_M * by_size_m / ADULT_FACE_M

    return [
        name,
        "-" if outer_m is None else f"{1000 * outer_m:.1f} mm",
        f"{1000 * size_m:.1f} mm" + ("" if outer_m is None else f" ({size_m / outer_m:.3f} of it)"),
        f"{size_m / assumed_m:.3f}",
        f"{1000 * ahead_m:.0f} mm",
        *(f"{100 * (read(eyes_m, assumed_m) / eyes_m - 1):+.1f} %" for eyes_m in (1.0, 4.0)),
        f"{100 * (read(1.0, size_m) - read(4.0, size_m) / 4):+.1f} %",
    ]


def _rendered(folder: Path) -> list[list[str]]:
    rows = []
    shots = load(folder, folder / "detections")
    for person in sorted({s.person for s in shots if s.tuning}):
        found, usual = [], 1.0
        for shot in shots:
            if shot.person != person or shot.pose is None or shot.pose.face is None:
                continue
            usual = Person(shot.stature_m, measured=True).shape.face
            view = look_at(shot.pose.face, shot.camera)
            if view is not None and view.turned_rad < _FRONT_RAD:
                found.append((shot.eyes_m, view.eyes_per_face + PUPIL_AHEAD_M / ADULT_FACE_M))
        rows.append(row(f"rendered, used for tuning: {person}", None, np.array(found), usual))
    return rows


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and keep the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True, help="folder of the scanned heads")
    parser.add_argument("--sweep", type=Path, help="the rendered sweep, for comparison")
    parser.add_argument("--pictures", type=Path, help="keep the drawn pictures in this folder")
    options = parser.parse_args(arguments)
    finder = LiteRtFaceFinder(stills=True)
    rows = [
        row(h.name, h.outer_corners_m, of_head(h, finder, options.pictures), 1.0)
        for h in heads(options.data)
    ]
    finder.close()
    if options.sweep is not None:
        rows += _rendered(options.sweep)
    lines = [
        "# Distance from real faces",
        "",
        "Scanned heads in millimetres, drawn at 0.8 to 6 m and turned up to 20 degrees, each taken "
        f"for an adult's of unknown stature, faces differing by {100 * FACE_SD:g} % (standard "
        "deviation). Rendered ones: their stature is known.",
        "",
        table(HEADER, rows),
    ]
    keep("heads", "\n".join(lines))


if __name__ == "__main__":
    main()
