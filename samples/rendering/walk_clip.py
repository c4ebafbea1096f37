"""Make the shipped clip: walk.mp4, walk.truth.csv and walk.camera.json.

    python -m samples.rendering.walk_clip --out samples --work FOLDER

The scenario, the person and the room are invented; nothing was filmed.
"""

from __future__ import annotations

import argparse
import math
import subprocess
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from .body import Build, PosedBody, Posture, build_body, pose
from .limb_end import LimbEnd, ended
from .rotation import FORWARD
from .scenario import Motion, aim_end, too_far_then_forward
from .studio import Picture, Studio, person_box
from .truth import (
    Camera,
    camera_record,
    true_points,
    truth_row,
    visible_fraction,
    write_json,
    write_truth,
)
from .wardrobe import SHOE_SOLE_M, Outfit, Wardrobe, hat_or_hair_above_head

ABOUT = (
    "Invented and rendered: a computer-made person walks through a computer-made room; nobody was "
    "filmed. Camera frame: x right, y down, z along the optical axis, metres, origin at the lens "
    "(thin-lens plane, taken as the entrance pupil). Pixels count from the picture's outer corner, "
    "so cx = width / 2. An eye is the front of the eyeball (its pupil); hip_mid is half way "
    "between the hip joints; visible_fraction is the share of the body's surface that projects "
    "inside the picture, whatever hides it. The depth of field is real (thin lens, ray traced); "
    "there is no motion blur and no lens distortion."
)

PERSON = Build("walker", "woman", 1.70, weight=0.47, muscle=0.5)
OUTFIT = Outfit()
CAMERA = Camera(tilt_rad=math.radians(2.0))
END_EYE_Z_M = 4.05


def encode(path: Path, frames: Iterable[Picture], rate: float, size: tuple[int, int]) -> None:
    """Write an H.264 file from pictures (height, width, 3)."""
    import imageio_ffmpeg

    command = [
        imageio_ffmpeg.get_ffmpeg_exe(), "-y", "-loglevel", "error",
        "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{size[0]}x{size[1]}", "-r", f"{rate:g}",
        "-i", "-", "-an", "-c:v", "libx264", "-preset", "slow", "-crf", "20",
        "-vf", "scale=out_color_matrix=bt709:out_range=tv",
        "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709",
        "-pix_fmt", "yuv420p", "-movflags", "+faststart", "-map_metadata", "-1",
        "-fflags", "+bitexact", "-flags:v", "+bitexact", str(path),
    ]  # fmt: skip
    process = subprocess.Popen(command, stdin=subprocess.PIPE)
    assert process.stdin is not None
    for frame in frames:
        process.stdin.write(np.ascontiguousarray(frame).tobytes())
    process.stdin.close()
    if process.wait() != 0:
        raise RuntimeError("the video encoder failed")


@dataclass(frozen=True)
class Walk:
    """One clip: its file name, who moves how before which camera, and how finely it is rendered.

    `make` builds the scenario for a floor place (y, metres) where it ends; the place is searched
    so that the eyes end at the depth `end_eye_z_m` from the lens. `things` puts furniture that
    moves with the person into the room, at the origin. `ends` are limbs that end early.
    """

    name: str
    make: Callable[[float], Motion]
    end_eye_z_m: float
    person: Build = PERSON
    outfit: Outfit = OUTFIT
    camera: Camera = CAMERA
    rate: float = 25.0
    samples: int = 4
    things: Callable[[Studio], None] | None = None
    ends: tuple[LimbEnd, ...] = ()


def make_walk(walk: Walk, out: Path, work: Path, every: int = 1) -> None:
    """Render one walk with its truth.

    Frames are kept as PNGs in the folder `work` and not rendered again, so a quick look at every
    n-th frame (`every`) is part of the full clip. All true joints go to an .npz there, too.
    """
    name, camera, rate = walk.name, walk.camera, walk.rate
    body = build_body(walk.person)
    scenario = aim_end(camera, body, walk.make, walk.end_eye_z_m)
    posture_at = scenario.postures(body)
    surfaces = Wardrobe(body, walk.outfit).surfaces()
    for end in walk.ends:
        surfaces = ended(body, surfaces, end)
    work.mkdir(parents=True, exist_ok=True)
    studio = Studio("normal", samples=walk.samples)
    studio.place_camera(camera)
    empty = "background" if camera == CAMERA else f"{name}.background"
    background = _kept(work / f"{empty}.png", lambda: studio.render(samples=48))
    studio.dress(surfaces)
    if walk.things is not None:
        walk.things(studio)
    rows: list[dict[str, str]] = []
    joints: list[dict[str, np.ndarray]] = []
    numbers = range(0, round(scenario.duration * rate), every)

    def frames() -> Iterator[Picture]:
        for number in numbers:
            time_s = number / rate
            posture = posture_at(time_s)
            posed = pose(body, posture)
            points = true_points(camera, posed)
            visible = visible_fraction(camera, body, posed)
            phase = scenario.phase(time_s)
            rows.append(truth_row(number // every, time_s, points, visible, phase))
            joints.append(points)

            def render(posed: PosedBody = posed, posture: Posture = posture) -> Picture:
                ahead = posture.pelvis @ FORWARD
                turn = math.atan2(ahead[0], -ahead[1])
                studio.move_extras(posture.hips[:2], turn)
                world = studio.pose(posed)
                box = person_box(camera, [*world, *studio.extra_vertices()])
                return studio.render_over(background, box, camera, world)

            yield _kept(work / f"{name}.{number:04d}.png", render)
            if number % 25 == 0:
                print(f"{name}: frame {number} of {numbers.stop}", flush=True)

    out.mkdir(parents=True, exist_ok=True)
    encode(out / f"{name}.mp4", frames(), rate / every, (camera.width_px, camera.height_px))
    write_truth(out / f"{name}.truth.csv", rows)
    write_json(
        out / f"{name}.camera.json",
        {"about": ABOUT}
        | camera_record(camera)
        | {
            "frames": len(rows),
            "frames_per_second": rate / every,
            "person": {
                "stature_barefoot_m": round(body.stature_m, 4),
                "sex_of_the_body_model": walk.person.sex,
                "shoe_sole_m": SHOE_SOLE_M,
                "hair_or_hat_above_crown_m": round(hat_or_hair_above_head(body, surfaces), 4),
            }
            | ({"without": [end.lacking for end in walk.ends]} if walk.ends else {}),
        },
    )
    stacked = {key: np.stack([j[key] for j in joints]) for key in joints[0]}
    np.savez_compressed(work / f"{name}.joints.npz", **stacked)


def _kept(path: Path, make: Callable[[], Picture]) -> Picture:
    """The picture from the file, made and stored first when it is not there."""
    if not path.exists():
        part = path.with_suffix(".part")
        Image.fromarray(make()).save(part, format="PNG", compress_level=1)
        part.rename(path)
    return np.asarray(Image.open(path).convert("RGB"))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path("samples"))
    parser.add_argument("--work", type=Path, required=True, help="folder for single frames")
    parser.add_argument("--samples", type=int, default=4, help="rays per pixel on the person")
    parser.add_argument("--every", type=int, default=1, help="render every n-th frame only")
    options = parser.parse_args()
    walk = Walk(
        "walk",
        lambda end_y: too_far_then_forward(CAMERA, end_y),
        END_EYE_Z_M,
        samples=options.samples,
    )
    make_walk(walk, options.out, options.work, options.every)


if __name__ == "__main__":
    main()
