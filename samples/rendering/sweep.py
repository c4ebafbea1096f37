"""Render the sweep: many bodies, postures, turns, framings, lenses, tilts and lights, with truth.

    python -m samples.rendering.sweep --out FOLDER

Writes JPEGs and `truth.jsonl`, one record per picture, appended as it goes (a partial sweep is
balanced: the order is shuffled with a fixed seed). Started again, it goes on where it stopped.
Everybody and everything in the pictures is invented.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from . import props
from .body import Build, PosedBody, RestBody, build_body, pose
from .postures import CHAIR_SEAT_M, POSTURES, WHEELCHAIR_SEAT_M, placed
from .rotation import Array
from .studio import Lighting, Picture, Studio, person_box
from .truth import Camera, camera_record, true_points, visible_fraction
from .wardrobe import SHOE_SOLE_M, Material, Outfit, Wardrobe

SEED = 20
BODIES: Mapping[str, tuple[Build, Outfit]] = {
    "w145": (
        Build("w145", "woman", 1.45, weight=0.38, muscle=0.45, age=0.8),
        Outfit(
            skin=(0.36, 0.19, 0.12),
            shirt=Material("checks", (0.45, 0.10, 0.08), (0.08, 0.08, 0.10)),
            trousers=Material("weave", (0.03, 0.03, 0.035), (0.07, 0.07, 0.08)),
            hair=(0.012, 0.010, 0.010),
            hair_style="short",
        ),
    ),
    "w158": (
        Build("w158", "woman", 1.58, weight=0.86, muscle=0.45),
        Outfit(
            skin=(0.62, 0.40, 0.30),
            shirt=Material("plain", (0.10, 0.26, 0.22)),
            trousers=Material("weave", (0.16, 0.13, 0.10), (0.26, 0.21, 0.16)),
            hair=(0.16, 0.075, 0.03),
            sleeves="short",
            looseness=1.3,
        ),
    ),
    "w170": (Build("w170", "woman", 1.70, weight=0.47), Outfit()),
    "m165": (
        Build("m165", "man", 1.65, weight=0.33, muscle=0.5),
        Outfit(
            skin=(0.50, 0.31, 0.19),
            shirt=Material("stripes", (0.16, 0.20, 0.26), (0.45, 0.42, 0.36), 1.6),
            trousers=Material("weave", (0.10, 0.09, 0.07), (0.20, 0.18, 0.14)),
            hair=(0.010, 0.008, 0.008),
            hair_style="short",
        ),
    ),
    "m178": (
        Build("m178", "man", 1.78, weight=0.52, muscle=0.62),
        Outfit(
            skin=(0.16, 0.075, 0.045),
            shirt=Material("knit", (0.46, 0.32, 0.08), (0.40, 0.27, 0.06)),
            trousers=Material("weave", (0.05, 0.07, 0.12), (0.10, 0.13, 0.20)),
            hair=(0.008, 0.007, 0.007),
            hair_style="short",
            sleeves="short",
        ),
    ),
    "m186": (
        Build("m186", "man", 1.86, weight=0.84, muscle=0.55, age=0.85),
        Outfit(
            skin=(0.64, 0.42, 0.32),
            shirt=Material("checks", (0.42, 0.42, 0.40), (0.05, 0.09, 0.20), 0.8),
            trousers=Material("weave", (0.09, 0.10, 0.08), (0.16, 0.17, 0.13)),
            hair=(0.22, 0.20, 0.18),
            hair_style="short",
            looseness=1.3,
        ),
    ),
    "m200": (
        Build("m200", "man", 2.00, weight=0.45, muscle=0.5),
        Outfit(
            skin=(0.57, 0.35, 0.24),
            shirt=Material("plain", (0.06, 0.06, 0.065)),
            trousers=Material("weave", (0.06, 0.10, 0.19), (0.11, 0.17, 0.29)),
            hair=(0.05, 0.03, 0.015),
            hair_style="hat",
        ),
    ),
}
FRAMINGS = ("distant", "full_body", "knees_up", "waist_up", "head_shoulders")
LENSES_MM = (24.0, 28.0, 35.0, 50.0, 85.0)
NEAREST_M, FARTHEST_M = 1.0, 7.7
CALIBRATION_CAMERA = Camera(tilt_rad=math.radians(2.0), f_number=4.0)
CALIBRATION_SHOTS = (
    (4.0, "standing", 0.0),
    (4.0, "standing", 45.0),
    (4.0, "standing", -45.0),
    (4.0, "stepping", 0.0),
    (4.0, "seated", 0.0),
    (3.0, "standing", 0.0),
    (3.0, "stepping", 45.0),
    (3.0, "seated", 0.0),
    (5.0, "standing", 0.0),
    (5.0, "standing", 45.0),
    (5.0, "stepping", 0.0),
    (5.0, "seated", -45.0),
)


@dataclass(frozen=True)
class Shot:
    """What one picture should show; angles in degrees (positive turn: to the person's left)."""

    name: str
    part: str
    """`calibration` (at a mark) or `test`."""
    body: str
    posture: str
    turn_deg: float
    lighting: Lighting
    framing: str
    lens_mm: float
    tilt_deg: float
    roll_deg: float
    focus_error: float
    looks_at_camera: bool
    mark_m: float | None
    seed: int


def design(tests_per_body: int = 31) -> list[Shot]:
    """All shots: everybody's calibration set first, then the tests in shuffled order."""
    random = np.random.default_rng(SEED)
    shots: list[Shot] = []
    for body in BODIES:
        for index, (mark, posture, turn) in enumerate(CALIBRATION_SHOTS):
            shots.append(
                Shot(
                    f"{body}_cal{index:02d}",
                    "calibration",
                    body,
                    posture,
                    turn,
                    "normal",
                    "full_body",
                    35.0,
                    2.0,
                    0.0,
                    1.0,
                    True,
                    mark,
                    int(random.integers(1 << 30)),
                )
            )
    total = tests_per_body * len(BODIES)
    decks = {
        "posture": _deck(random, total, tuple(POSTURES)),
        "turn": _deck(random, total, (0,) * 8 + (45, -45) * 3 + (90, -90) * 2 + (180, 180, 180)),
        "lighting": _deck(random, total, ("normal",) * 3 + ("dim", "backlit")),
        "framing": _deck(random, total, FRAMINGS),
        "lens": _deck(random, total, LENSES_MM),
        "tilt": _deck(random, total, (0.0, 0.0, 0.0, 5.0, 10.0, 10.0, 20.0, 20.0, -8.0)),
        "roll": _deck(random, total, (0.0,) * 6 + (-6.0, -3.0, 3.0, 6.0)),
        "focus": _deck(random, total, (1.0, 1.0, 1.0, 0.85, 1.2)),
    }
    names = list(BODIES)
    for index in range(total):
        body = names[index % len(names)]
        drawn = {key: deck[index] for key, deck in decks.items()}
        shots.append(
            Shot(
                f"{body}_t{index:03d}",
                "test",
                body,
                drawn["posture"],
                float(drawn["turn"]),
                drawn["lighting"],
                drawn["framing"],
                drawn["lens"],
                drawn["tilt"],
                drawn["roll"],
                drawn["focus"],
                bool(random.random() < 0.7),
                None,
                int(random.integers(1 << 30)),
            )
        )
    marks = [s for s in shots if s.part == "calibration"]
    tests = [s for s in shots if s.part == "test"]
    tests = [tests[i] for i in random.permutation(len(tests))]
    chunks = [tests[i : i + 28] for i in range(0, len(tests), 28)]
    return marks + [s for c in chunks for s in sorted(c, key=lambda s: (s.lighting, s.body))]


def _deck(random: np.random.Generator, count: int, levels: Sequence[Any]) -> list[Any]:
    """Levels repeated to `count` entries and shuffled: balanced, unordered."""
    repeated = [levels[i % len(levels)] for i in range(count)]
    return [repeated[i] for i in random.permutation(count)]


def frame_person(
    shot: Shot, body: RestBody, random: np.random.Generator
) -> tuple[Camera, PosedBody, Array]:
    """Camera, posed body and floor place (x, y) that give the wanted framing."""
    base = POSTURES[shot.posture](body, random)
    turn = math.radians(shot.turn_deg)
    if shot.mark_m is not None:
        place = np.array([float(random.uniform(-0.2, 0.2)), shot.mark_m])
        look = CALIBRATION_CAMERA.position if abs(shot.turn_deg) < 90 else None
        posed = pose(body, placed(body, base, place, turn, look))
        return CALIBRATION_CAMERA, posed, place
    local = pose(body, placed(body, base, np.zeros(2), turn, None))
    top = float(local.vertices[:13380, 2].max()) + 0.06 * body.stature_m
    bottom = {
        "distant": -0.06,
        "full_body": -0.06,
        "knees_up": float(min(local.points[f"{s}_knee"][2] for s in ("left", "right"))) - 0.06,
        "waist_up": float(local.points["left_hip"][2]) - 0.02,
        "head_shoulders": float(local.points["left_shoulder"][2]) - 0.12,
    }[shot.framing]
    covered = max(top - bottom, 0.35) * float(random.uniform(0.95, 1.15))
    if shot.framing == "distant":
        covered *= float(random.uniform(1.5, 2.6))
    shown_mm = 36.0 * 720.0 / 1280.0
    lens, distance = shot.lens_mm, 0.0
    for lens in sorted(LENSES_MM, key=lambda mm: abs(math.log(mm / shot.lens_mm))):
        distance = covered * lens / shown_mm
        if NEAREST_M <= distance <= FARTHEST_M:
            break
    distance = float(np.clip(distance, NEAREST_M, FARTHEST_M))
    tilt, middle = math.radians(shot.tilt_deg), (top + bottom) / 2.0
    while not 0.35 <= middle + distance * math.tan(tilt) <= 2.5 and abs(tilt) > 0.01:
        tilt *= 0.9
    height = float(np.clip(middle + distance * math.tan(tilt), 0.3, 2.6))
    half_width = 640.0 / (lens / 36.0 * 1280.0) * distance
    aside = min(0.28 * half_width, 0.9)
    place = np.array([float(random.uniform(-aside, aside)), distance])
    camera = Camera(
        lens_mm=lens,
        f_number=float(random.choice([2.8, 4.0, 8.0])),
        focus_m=max(round(distance * shot.focus_error, 2), 0.6),
        height_m=round(height, 3),
        tilt_rad=tilt,
        roll_rad=math.radians(shot.roll_deg),
    )
    look = camera.position if shot.looks_at_camera else None
    posed = pose(body, placed(body, base, place, turn, look))
    return camera, posed, place


def add_things(studio: Studio, shot: Shot, posed: PosedBody, place: Array) -> None:
    """Chair, wheeled seat or carried box."""
    studio.remove_extras()
    turn = math.radians(shot.turn_deg)
    if shot.posture == "seated":
        studio.add_extra(props.chair(studio.scene, place, turn, CHAIR_SEAT_M))
    elif shot.posture == "wheelchair":
        studio.add_extra(props.wheelchair(studio.scene, place, turn, WHEELCHAIR_SEAT_M))
    elif shot.posture == "holding":
        hands = [posed.points[f"{s}_wrist"] for s in ("left", "right")]
        ahead = np.array([math.sin(turn), -math.cos(turn), 0.0])
        centre = (hands[0] + hands[1]) / 2.0 + 0.13 * ahead
        width = max(float(np.linalg.norm(hands[0] - hands[1])) - 0.08, 0.12)
        studio.add_extra(props.carried_box(studio.scene, centre, turn, width))


def take(
    studio: Studio, camera: Camera, world: Sequence[Array], backdrop: dict[str, Picture]
) -> Picture:
    """Person's box at full resolution over the empty room rendered at half resolution."""
    studio.place_camera(camera)
    key = json.dumps([asdict(camera), studio.lighting])
    if key not in backdrop:
        backdrop.clear()
        studio.show_person(False)
        half = replace(camera, width_px=camera.width_px // 2, height_px=camera.height_px // 2)
        studio.place_camera(half)
        small = Image.fromarray(studio.render(samples=3))
        size = (camera.width_px, camera.height_px)
        backdrop[key] = np.asarray(small.resize(size, Image.Resampling.BICUBIC))
        studio.show_person(True)
        studio.place_camera(camera)
    everything = [*world, *studio.extra_vertices()]
    return studio.render_box_over(backdrop[key], person_box(camera, everything), camera)


def sensor_noise(picture: Picture, lighting: Lighting, seed: int) -> Picture:
    """Add the noise of a camera at a low or, for dim light, high sensitivity."""
    random = np.random.default_rng(seed)
    spread = {"normal": 1.5, "dim": 7.0, "backlit": 2.0}[lighting]
    noisy = picture + random.normal(0.0, spread, picture.shape)
    return np.clip(np.rint(noisy), 0, 255).astype(np.uint8)


def record(
    shot: Shot, camera: Camera, body: RestBody, posed: PosedBody, file: str
) -> dict[str, Any]:
    """The truth of one picture, ready for JSON."""
    points = true_points(camera, posed)

    def xyz(name: str) -> list[float]:
        return [round(float(v), 4) for v in points[name]]

    spec = camera_record(camera)
    return {
        "file": file,
        "person": shot.body,
        "sex": body.build.sex,
        "stature_m": round(body.stature_m, 4),
        "build": body.build.weight,
        "shoe_sole_m": SHOE_SOLE_M,
        "part": shot.part,
        "mark_m": shot.mark_m,
        "posture": shot.posture,
        "turn_deg": shot.turn_deg,
        "framing": shot.framing,
        "lens_mm": spec["focal_length_mm"],
        "fx": spec["fx_px"],
        "fy": spec["fy_px"],
        "cx": spec["cx_px"],
        "cy": spec["cy_px"],
        "camera_height_m": spec["camera_height_m"],
        "tilt_deg": spec["tilt_down_deg"],
        "roll_deg": spec["roll_clockwise_deg"],
        "lighting": shot.lighting,
        "looks_at_camera": shot.looks_at_camera,
        "visible_fraction": round(visible_fraction(camera, body, posed), 3),
        "eye_left": xyz("left_pupil"),
        "eye_right": xyz("right_pupil"),
        "eye_mid": xyz("eye_mid"),
        "hip_mid": xyz("hip_mid"),
        "joints": {name: xyz(name) for name in points},
        "camera": spec,
    }


def render_all(out: Path, shots: Sequence[Shot]) -> Iterator[str]:
    """Render what is not there yet; yields a line per picture."""
    out.mkdir(parents=True, exist_ok=True)
    log = out / "truth.jsonl"
    done = set()
    if log.exists():
        done = {json.loads(line)["file"] for line in log.read_text().splitlines()}
    studio: Studio | None = None
    dressed = ""
    backdrop: dict[str, Picture] = {}
    for shot in shots:
        file = f"{shot.name}.jpg"
        if file in done:
            continue
        start = time.monotonic()
        body = build_body(BODIES[shot.body][0])
        if studio is None or studio.lighting != shot.lighting:
            studio, dressed = Studio(shot.lighting), ""
            backdrop.clear()
        if dressed != shot.body:
            studio.dress(Wardrobe(body, BODIES[shot.body][1]).surfaces(), fine=True)
            dressed = shot.body
        camera, posed, place = frame_person(shot, body, np.random.default_rng(shot.seed))
        add_things(studio, shot, posed, place)
        studio.refine(shot.framing == "head_shoulders")
        picture = take(studio, camera, studio.pose(posed), backdrop)
        picture = sensor_noise(picture, shot.lighting, shot.seed)
        Image.fromarray(picture).save(out / file, quality=95)
        with log.open("a") as stream:
            stream.write(json.dumps(record(shot, camera, body, posed, file)) + "\n")
        yield f"{file} {time.monotonic() - start:.1f} s"


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--tests-per-body", type=int, default=31)
    parser.add_argument("--first", type=int, help="only the first so many pictures")
    options = parser.parse_args()
    shots = design(options.tests_per_body)[: options.first]
    for number, line in enumerate(render_all(options.out, shots)):
        print(number, "of", len(shots), line, flush=True)


if __name__ == "__main__":
    main()
