"""Render eyes of known blur and known cause, with what else tells the cause, for the review.

    python -m samples.rendering.causes --out FOLDER

A second set beside `eyes.py`, with other people, lenses, lights and parts of the limit; `--set`
makes further ones, with others again. Every shot is one cause: focus in front of or behind the
eyes, the person moving during the exposure, the camera turning during it, or two of these together.
Of each, crops out of pictures of 6000 by 4000 pixels on 36 by 24 mm: the eyes, the background
beside the head, and the floor before the feet where the picture shows it; of further sets the eyes
alone.
The ray tracer's thin lens and its motion blur make the blur; truth is the lens formula and the
projected movement, and never the picture.
"""

from __future__ import annotations

import argparse
import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import bpy
import mathutils
import numpy as np
from PIL import Image

from .body import PosedBody, RestBody, build_body, pose, upright
from .eyes import LIMIT_M, focus_for_blur_m
from .rotation import Array
from .studio import Box, Lighting, Studio
from .sweep import BODIES
from .truth import Camera, true_points
from .wardrobe import SHOE_SOLE_M, Wardrobe

PITCH_M = 0.036 / 6000
LIMIT_PX = LIMIT_M / PITCH_M
LINE_WIDTHS = 4 / math.sqrt(12)
"""Width of a line of length 1, as the disc that spreads as much along it."""


@dataclass(frozen=True)
class Place:
    """Who stands where before which lens."""

    body: str
    lighting: Lighting
    lens_mm: float
    distance_m: float
    f_number: float
    height_m: float


PLACES = (
    Place("m178", "normal", 28.0, 2.9, 4.0, 1.25),
    Place("w158", "dim", 50.0, 4.0, 2.5, 1.35),
    Place("m186", "normal", 60.0, 4.4, 2.8, 1.70),
)


@dataclass(frozen=True)
class Shot:
    """Parts of the limit: defocus (signed, positive: focus in front of the eyes) and movement."""

    cause: str
    defocus: float
    smear: float = 0.0
    smear_deg: float = 0.0


SHOTS = (
    Shot("front", 1.35),
    Shot("motion", 0.15, 2.3, 155.0),
    Shot("none", -0.25),
    Shot("shake", -0.15, 1.6, 90.0),
    Shot("back", -1.7),
    Shot("none", 0.6),
    Shot("front", 2.4),
    Shot("shake", 0.2, 2.8, 15.0),
    Shot("none", 0.05),
    Shot("motion", -0.2, 1.4, 65.0),
    Shot("back", -1.25),
    Shot("none", -0.75),
    Shot("motion", 0.8, 1.8, 10.0),
    Shot("motion", 0.1, 0.5, 30.0),
)

THIRD_PLACES = (
    Place("w145", "normal", 40.0, 3.3, 2.8, 1.20),
    Place("m200", "dim", 85.0, 5.2, 3.2, 1.60),
    Place("m165", "backlit", 35.0, 2.5, 2.0, 1.50),
)
THIRD_SHOTS = (
    Shot("none", 0.1),
    Shot("front", 1.2),
    Shot("motion", -0.1, 1.9, 120.0),
    Shot("none", -0.45),
    Shot("back", -1.5),
    Shot("shake", 0.15, 1.5, 40.0),
    Shot("none", 0.8),
    Shot("front", 2.0),
    Shot("motion", 0.3, 2.5, 75.0),
    Shot("none", -0.65),
    Shot("shake", -0.5, 2.1, 170.0),
    Shot("back", -2.7),
)

FOURTH_PLACES = (
    Place("w170", "dim", 50.0, 3.2, 2.2, 1.45),
    Place("m178", "dim", 35.0, 2.6, 2.0, 1.60),
    Place("w158", "backlit", 60.0, 4.2, 2.8, 1.30),
)
FOURTH_SHOTS = (
    Shot("none", 0.05),
    Shot("none", 0.35),
    Shot("none", -0.6),
    Shot("none", 0.78),
    Shot("front", 1.25),
    Shot("back", -1.65),
    Shot("front", 2.3),
    Shot("motion", 0.1, 1.3, 5.0),
    Shot("shake", -0.1, 1.7, 105.0),
    Shot("motion", 0.25, 2.0, 145.0),
    Shot("shake", -0.3, 2.6, 60.0),
    Shot("motion", 0.7, 1.6, 25.0),
)
FIFTH_PLACES = (
    Place("m186", "dim", 70.0, 4.8, 2.8, 1.65),
    Place("w145", "dim", 40.0, 2.8, 2.0, 1.15),
    Place("m165", "backlit", 50.0, 3.6, 2.5, 1.55),
)
FIFTH_SHOTS = (
    Shot("none", -0.15),
    Shot("none", 0.3),
    Shot("none", -0.5),
    Shot("none", 0.75),
    Shot("back", -1.3),
    Shot("front", 1.8),
    Shot("back", -2.5),
    Shot("shake", 0.1, 1.4, 160.0),
    Shot("motion", -0.2, 2.2, 80.0),
    Shot("shake", 0.2, 1.8, 50.0),
    Shot("motion", -0.1, 2.7, 0.0),
    Shot("shake", 0.6, 1.5, 125.0),
)
SETS = {
    "second": (PLACES, SHOTS),
    "third": (THIRD_PLACES, THIRD_SHOTS),
    "fourth": (FOURTH_PLACES, FOURTH_SHOTS),
    "fifth": (FIFTH_PLACES, FIFTH_SHOTS),
}


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--samples", type=int, default=32, help="rays per pixel")
    parser.add_argument(
        "--set", choices=tuple(SETS), default="second", help="from the third on, of the eyes alone"
    )
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    # What moves, moves steadily: the truth of a smear is its length.
    bpy.context.preferences.edit.keyframe_new_interpolation_type = "LINEAR"
    with (options.out / "truth.csv").open("w", newline="") as stream:
        stream.write(
            "# Rendered crops of invented people by samples/rendering/causes.py: 36 x 24 mm, 6000 "
            "x 4000\n# pixels, thin lens. Distances from the lens along the axis; pixels from the "
            "crop's corner;\n# smear: length in pixels of the steady movement at the part, and its "
            "direction.\n"
        )
        writer: csv.DictWriter[str] | None = None
        places, shots = SETS[options.set]
        names = ("eyes", "background", "floor") if options.set == "second" else ("eyes",)
        for number, place in enumerate(places):
            for line in _shots(number, place, shots, names, options.out, options.samples):
                if writer is None:
                    writer = csv.DictWriter(stream, list(line), lineterminator="\n")
                    writer.writeheader()
                writer.writerow(line)
                stream.flush()


def _shots(
    number: int,
    place: Place,
    shots: tuple[Shot, ...],
    names: tuple[str, ...],
    out: Path,
    samples: int,
) -> Iterator[dict[str, object]]:
    build, outfit = BODIES[place.body]
    body = build_body(build)
    studio = Studio(place.lighting, samples=samples)
    studio.scene.cycles.use_denoising = False  # it would sharpen and smear what is to be measured
    studio.scene.render.motion_blur_shutter = 1.0
    studio.dress(Wardrobe(body, outfit).surfaces())
    camera = Camera(
        width_px=6000, height_px=4000, lens_mm=place.lens_mm, f_number=place.f_number,
        focus_m=place.distance_m, height_m=place.height_m,
    )  # fmt: skip
    posed = _standing(body, camera, place.distance_m - 0.05)
    studio.pose(posed)
    points = true_points(camera, posed)
    focal_m, z_m = place.lens_mm / 1000, float(points["eye_mid"][2])
    for index, shot in enumerate(shots):
        side = 1 if shot.defocus > 0 else -1
        s_m = focus_for_blur_m(focal_m, place.f_number, z_m, abs(shot.defocus) * LIMIT_M, side)
        focused = replace(camera, focus_m=s_m + 1 / (1 / focal_m - 1 / s_m))
        studio.place_camera(focused)
        length_px = shot.smear * LIMIT_PX / LINE_WIDTHS
        turn = math.radians(shot.smear_deg)
        across = length_px * np.array([math.cos(turn), math.sin(turn)])
        moves = "camera" if shot.cause == "shake" else "person" if shot.smear else ""
        _move(studio, focused, moves, across, z_m)
        for name, box, depth_m in _parts(focused, points, posed):
            if name not in names:
                continue
            file = f"{number}-{index:02d}-{name}.jpg"
            Image.fromarray(studio.render(box)).save(out / file, quality=90, subsampling=0)
            moved = moves == "camera" or (moves == "person" and name == "eyes")
            defocus_px = (
                focal_m**2 * abs(depth_m - s_m) / (place.f_number * depth_m * (s_m - focal_m))
            ) / PITCH_M
            eyes = focused.project(np.stack([points["left_pupil"], points["right_pupil"]]))
            yield {
                "file": file,
                "cause": shot.cause,
                "part": name,
                "focal_length_mm": place.lens_mm,
                "f_number": place.f_number,
                "focus_from_lens_m": f"{s_m:.5f}",
                "part_z_m": f"{depth_m:.5f}",
                "defocus_px": f"{defocus_px:.3f}",
                "smear_px": f"{length_px if moved else 0.0:.3f}",
                "smear_deg": f"{shot.smear_deg:g}" if moved else "",
                **{
                    f"{who}_eye_{axis}_px": f"{eyes[row, column] - box[column]:.1f}"
                    for row, who in enumerate(("left", "right"))
                    for column, axis in enumerate("xy")
                },
            }


def _standing(body: RestBody, camera: Camera, eyes_z_m: float) -> PosedBody:
    """The person upright, facing the camera, with the eyes at that depth."""
    standing = upright(body)
    hips = standing.hips + np.array([0.0, 0.0, SHOE_SOLE_M])
    for _ in range(3):
        z = true_points(camera, pose(body, replace(standing, hips=hips)))["eye_mid"][2]
        hips = hips + np.array([0.0, eyes_z_m - float(z), 0.0])
    forward = np.array([0.0, float(hips[1] - standing.hips[1]), SHOE_SOLE_M])
    legs = {side: replace(leg, ankle=leg.ankle + forward) for side, leg in standing.legs.items()}
    return pose(body, replace(standing, hips=hips, legs=legs))


def _parts(
    camera: Camera, points: dict[str, Array], posed: PosedBody
) -> Iterator[tuple[str, Box, float]]:
    """Name, box and depth of what is rendered; the depth of the back wall for the background."""
    eyes = camera.project(np.stack([points["left_pupil"], points["right_pupil"]]))
    apart = float(np.hypot(*(eyes[0] - eyes[1])))
    x, y = eyes.mean(axis=0)
    yield "eyes", (
        int(x - 1.15 * apart), int(y - 0.62 * apart), int(x + 1.15 * apart), int(y + 0.5 * apart),
    ), float(points["eye_mid"][2])  # fmt: skip
    wall = camera.to_camera(np.array([0.0, 8.37, camera.height_m]))
    side = 180
    left = int(min(max(x - 5.5 * apart, 20), x - 3.2 * apart - side))
    if left >= 0:
        yield "background", (left, int(y), left + side, int(y) + side), float(wall[2])
    ankles = camera.to_camera((posed.points["left_ankle"] + posed.points["right_ankle"]) / 2)
    for before_m in (0.55, 0.4):
        floor = np.array([ankles[0], camera.height_m, ankles[2] - before_m])
        u, v = camera.project(floor)
        box = (int(u) - side // 2, int(v) - side // 2, int(u) + side // 2, int(v) + side // 2)
        if box[3] < camera.height_px:
            yield "floor", box, float(floor[2])
            return


def _move(studio: Studio, camera: Camera, what: str, across_px: Array, z_m: float) -> None:
    """Let person or camera move steadily so that the eyes pass over so many pixels."""
    scene = studio.scene
    scene.render.use_motion_blur = bool(what)
    people = [thing for _, thing in studio._people]
    for thing in (*people, studio._camera):
        thing.animation_data_clear()
    for thing in people:
        thing.location = (0.0, 0.0, 0.0)
    scene.frame_set(1)
    if what == "person":
        right, down, _ = camera.axes
        per_frame = (across_px[0] * right + across_px[1] * down) * z_m / camera.focal_px
        for thing in people:
            for frame in (0, 2):
                thing.location = (per_frame * (frame - 1)).tolist()
                thing.keyframe_insert("location", frame=frame)
    elif what == "camera":
        # The picture moves against the turn of the camera: right for a turn to the left.
        pan, tilt = across_px[0] / camera.focal_px, across_px[1] / camera.focal_px
        home = studio._camera.matrix_world.copy()
        for frame in (0, 2):
            part = frame - 1
            turn = mathutils.Euler((tilt * part, pan * part, 0.0)).to_matrix().to_4x4()
            studio._camera.matrix_world = home @ turn
            studio._camera.keyframe_insert("rotation_euler", frame=frame)
    scene.frame_set(1)


if __name__ == "__main__":
    main()
