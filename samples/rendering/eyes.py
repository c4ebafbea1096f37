"""Render eyes of known blur, to hold the review of pictures against.

    python -m samples.rendering.eyes --out FOLDER

Crops of the eyes out of pictures of 6000 by 4000 pixels on 36 by 24 mm, through the ray tracer's
thin-lens camera without its denoiser, focused so that the blur at the eyes is a chosen part of
diagonal / 1500; as JPEG of quality 92 with a table of truth. Two invented people, three lenses.
"""

from __future__ import annotations

import argparse
import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from .body import Build, build_body, pose, upright
from .studio import Studio
from .truth import Camera, true_points
from .wardrobe import SHOE_SOLE_M, Outfit, Wardrobe

PERSON = Build("walker", "woman", 1.70, weight=0.47, muscle=0.5)
OUTFITS = (Outfit(hair_style="short"), Outfit(hair_style="hat", skin=(0.30, 0.16, 0.10)))
LENSES = ((50.0, 3.0, 2.0), (85.0, 3.5, 2.0), (35.0, 2.2, 1.4))
"""Focal length in mm, distance in m, f-number."""
RATIOS = (0.15, 0.4, 0.6, 0.8, 0.95, 1.1, 1.25, 1.5, 1.8, 2.2, 2.8, 3.6)
LIMIT_M = math.hypot(0.036, 0.024) / 1500


def focus_for_blur_m(
    focal_m: float, f_number: float, z_m: float, blur_m: float, side: int
) -> float:
    """Focus distance from the lens that blurs a point at z by so much.

    side: 1 to focus in front of the point, -1 behind it. From b = f^2 |z - s| / (N z (s - f)).
    """
    a = side * blur_m * f_number / focal_m**2
    return (z_m + a * z_m * focal_m) / (1 + a * z_m)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--samples", type=int, default=48, help="rays per pixel")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    studio = Studio("normal", samples=options.samples)
    studio.scene.cycles.use_denoising = False  # it would sharpen and smear what is to be measured
    rows: list[dict[str, object]] = []
    body = build_body(PERSON)
    for outfit in OUTFITS:
        studio.dress(Wardrobe(body, outfit).surfaces())
        for number, (lens_mm, distance_m, f_number) in enumerate(LENSES):
            camera = Camera(
                width_px=6000, height_px=4000, lens_mm=lens_mm, f_number=f_number,
                focus_m=distance_m, height_m=1.45,
            )  # fmt: skip
            standing = upright(body)
            hips = standing.hips + np.array([0.0, 0.0, SHOE_SOLE_M])
            for _ in range(3):
                z = true_points(camera, pose(body, replace(standing, hips=hips)))["eye_mid"][2]
                hips = hips + np.array([0.0, distance_m - 0.05 - float(z), 0.0])
            forward = np.array([0.0, float(hips[1] - standing.hips[1]), SHOE_SOLE_M])
            legs = {
                side: replace(leg, ankle=leg.ankle + forward) for side, leg in standing.legs.items()
            }
            posed = pose(body, replace(standing, hips=hips, legs=legs))
            studio.pose(posed)
            points = true_points(camera, posed)
            for index, ratio in enumerate(RATIOS):
                name = f"{outfit.hair_style}-{lens_mm:g}-{index:02d}.jpg"
                side = 1 if (index + number) % 2 else -1
                rows.append(
                    {"file": name} | _crop(studio, camera, points, ratio, side, options.out / name)
                )
    with (options.out / "truth.csv").open("w", newline="") as stream:
        stream.write(
            "# Rendered eyes of invented people by samples/rendering/eyes.py: 36 x 24 mm, 6000 x "
            "4000 pixels,\n# thin-lens camera. Distances from the lens along the axis; pixels from "
            "the crop's outer corner.\n"
        )
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _crop(
    studio: Studio,
    camera: Camera,
    points: dict[str, np.ndarray],
    ratio: float,
    side: int,
    path: Path,
) -> dict[str, object]:
    """Render one crop; its line of truth."""
    focal_m = camera.lens_mm / 1000
    z_m = float(points["eye_mid"][2])
    s_m = focus_for_blur_m(focal_m, camera.f_number, z_m, ratio * LIMIT_M, side)
    focused = replace(camera, focus_m=s_m + 1 / (1 / focal_m - 1 / s_m))
    eyes = focused.project(np.stack([points["left_pupil"], points["right_pupil"]]))
    apart = float(np.hypot(*(eyes[0] - eyes[1])))
    x, y = eyes.mean(axis=0)
    box = (
        int(x - 1.15 * apart), int(y - 0.62 * apart), int(x + 1.15 * apart), int(y + 0.5 * apart),
    )  # fmt: skip
    studio.place_camera(focused)
    Image.fromarray(studio.render(box)).save(path, quality=92, subsampling=0)
    line: dict[str, object] = {
        "focal_length_mm": camera.lens_mm,
        "f_number": camera.f_number,
        "focus_from_lens_m": f"{s_m:.5f}",
        "left_eye_z_m": f"{points['left_pupil'][2]:.5f}",
        "right_eye_z_m": f"{points['right_pupil'][2]:.5f}",
    }
    for row, name in enumerate(("left", "right")):
        for column, axis in enumerate("xy"):
            line[f"{name}_eye_{axis}_px"] = f"{eyes[row, column] - box[column]:.1f}"
    return line


if __name__ == "__main__":
    main()
