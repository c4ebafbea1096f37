"""Render visits to a mark: people who come back to where the lens is focused, with truth.

    python -m samples.rendering.visits --out FOLDER

Four set-ups with a narrow zone of focus, six invented people whom the sweep does not know. Of each
set-up and person a reference, eyes in the plane where the lens is really focused (up to 5 % off the
stated distance), then visits within 25 cm of it: the head turned up to 30 degrees and tilted, arms
anywhere, now and then seated or in another light. The camera stays where it is but for those who
sit down: for them it is lowered. Of each the feed's picture (1280 by 720), and for many the head
out of a picture of 6000 by 4000 pixels through the same thin lens. There only the eyes with brows
are rendered in that size, without the denoiser, and are to be measured; what is around them is the
feed enlarged. `truth.jsonl` grows record by record; started again, it goes on. The order is such
that every set-up and person has a reference and four visits first.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
from PIL import Image

from . import props
from .body import SIDES, Arm, Build, PosedBody, Posture, RestBody, Side, build_body, pose
from .postures import CHAIR_SEAT_M, arms_crossed, placed, seated, standing, stepping
from .rotation import FORWARD, Array, pitch, roll, unit, yaw
from .studio import Box, Picture, Studio, person_box
from .truth import Camera, camera_record, true_points
from .wardrobe import SHOE_SOLE_M, Material, Outfit, Wardrobe

SEED = 16
VISITS = 12
Part = Literal["feed", "crop"]
ROUNDS: Sequence[Sequence[tuple[int, Part]]] = (
    [(-1, "feed"), (0, "feed"), (0, "crop"), (1, "feed"), (2, "feed"), (3, "feed")],
    [(1, "crop")],
    [(number, "feed") for number in (4, 5, 6, 7)],
    [(number, "crop") for number in (-1, 2, 3)],
    [(number, "feed") for number in (8, 9, 10, 11)],
    [(number, "crop") for number in (4, 5, 6, 7)],
)
"""What is rendered of everybody, round by round; visit -1 is the reference."""
FEED_PX, PICTURE_PX = (1280, 720), (6000, 4000)
FOCUS_OFF = 0.05
WITHIN_M = 0.25
MOST_RAYS, NOISE = 32, 0.1
"""Rays per pixel of the eyes, 16 at least, and the noise at which they are enough. With fewer the
grain of a blurred edge passes for sharpness: with 8, a blur of 5 pixels was measured as 2."""
NEAR_M = 0.06
"""Every other visit stops within this of the plane."""


@dataclass(frozen=True)
class SetUp:
    """A lens, its aperture, and the distance that is stated, from the sensor."""

    name: str
    lens_mm: float
    f_number: float
    distance_m: float


SET_UPS = (
    SetUp("85mm-2.4m", 85.0, 1.8, 2.4),
    SetUp("85mm-4m", 85.0, 1.8, 4.0),
    SetUp("50mm-2m", 50.0, 1.4, 2.0),
    SetUp("35mm-2.5m", 35.0, 1.4, 2.5),
)
LARGEST_EYES = SET_UPS[0]
"""The eyes of this one take several times as long as the others'; they come last."""
PEOPLE: Mapping[str, tuple[Build, Outfit]] = {
    "w152": (
        Build("w152", "woman", 1.52, 0.62, 0.42, 0.92, (0.1, 0.2, 0.9)),
        Outfit(
            skin=(0.66, 0.45, 0.36),
            shirt=Material("knit", (0.20, 0.10, 0.22), (0.15, 0.07, 0.17)),
            hair=(0.42, 0.40, 0.38),
            hair_style="short",
            looseness=1.25,
        ),
    ),
    "m172": (
        Build("m172", "man", 1.72, 0.70, 0.48, 0.78, (0.1, 0.9, 0.1)),
        Outfit(
            skin=(0.53, 0.34, 0.22),
            shirt=Material("plain", (0.30, 0.32, 0.34)),
            hair=(0.011, 0.009, 0.008),
            hair_style="short",
        ),
    ),
    "w166": (
        Build("w166", "woman", 1.66, 0.40, 0.52, 0.66, (0.9, 0.1, 0.1)),
        Outfit(
            skin=(0.11, 0.05, 0.03),
            shirt=Material("stripes", (0.62, 0.50, 0.16), (0.10, 0.16, 0.12), 1.3),
            hair=(0.007, 0.006, 0.006),
            sleeves="short",
        ),
    ),
    "m192": (
        Build("m192", "man", 1.92, 0.40, 0.60, 0.62, (0.2, 0.1, 0.9)),
        Outfit(
            skin=(0.60, 0.39, 0.29),
            shirt=Material("checks", (0.10, 0.22, 0.14), (0.04, 0.05, 0.05), 1.2),
            hair=(0.30, 0.17, 0.06),
            hair_style="short",
        ),
    ),
    "w175": (
        Build("w175", "woman", 1.75, 0.55, 0.55, 0.72, (0.3, 0.6, 0.6)),
        Outfit(
            skin=(0.38, 0.21, 0.13),
            shirt=Material("weave", (0.55, 0.20, 0.14), (0.40, 0.13, 0.10)),
            hair=(0.06, 0.028, 0.014),
        ),
    ),
    "m181": (
        Build("m181", "man", 1.81, 0.58, 0.70, 0.85, (0.8, 0.1, 0.4)),
        Outfit(
            skin=(0.22, 0.11, 0.065),
            shirt=Material("plain", (0.48, 0.46, 0.42)),
            hair=(0.01, 0.009, 0.009),
            hair_style="hat",
            hat=Material("knit", (0.08, 0.12, 0.20), (0.05, 0.08, 0.14)),
        ),
    ),
}
ALWAYS_SEATED = ("w175",)
"""Seated from the reference on. The others sit down for two visits of twelve."""
LIGHTS: Mapping[str, tuple[Mapping[str, float], float, float]] = {
    "window": ({}, 0.0, 1.5),
    "lamp": ({"window": 0.2, "lamp": 3.0}, 0.6, 2.5),
    "evening": ({"window": 0.15, "lamp": 0.4}, 1.7, 4.0),
}
"""Parts that the lamps give, stops of exposure, noise of the feed in levels."""
ARMS: Mapping[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "hip": ((0.75, 0.15, -0.70), (-0.75, -0.25, -0.45)),
    "pocket": ((0.30, 0.20, -0.95), (0.05, -0.40, -0.90)),
    "behind": ((0.15, 0.35, -0.90), (-0.50, 0.45, -0.35)),
    "ahead": ((0.20, -0.15, -0.95), (-0.25, -0.90, 0.15)),
    "hand up": ((0.55, -0.35, -0.60), (0.35, -0.25, 0.95)),
    "arm up": ((0.60, -0.10, 0.80), (0.25, -0.15, 0.95)),
    "aside": ((0.80, -0.10, -0.50), (0.70, -0.30, -0.20)),
}
"""Directions of upper arm and forearm, given for the left one: x outwards, y back, z up."""


@dataclass(frozen=True)
class Visit:
    """What one pair of pictures should show; angles in degrees."""

    set_up: SetUp
    person: str
    number: int
    focus_m: float
    """Where the lens is really focused, from the sensor."""
    off_m: float
    aside: float
    """From -1 to 1, across the part of the picture that keeps the head inside."""
    posture: str
    light: str
    turned_deg: float
    nodded_deg: float
    tilted_deg: float
    camera_tilt_deg: float
    seed: int

    @property
    def name(self) -> str:
        """Of the files."""
        which = "reference" if self.number < 0 else f"{self.number:02d}"
        return f"{self.set_up.name}_{self.person}_{which}"


def design() -> list[tuple[Visit, Part]]:
    """Every picture, in the order of rendering."""
    plans = {
        (set_up.name, person): _plan(set_up, person, 100 * i + k)
        for i, set_up in enumerate(SET_UPS)
        for k, person in enumerate(PEOPLE)
    }
    pictures = [
        (plans[set_up.name, person][number], part)
        for parts in ROUNDS
        for person in PEOPLE
        for set_up in SET_UPS
        for number, part in parts
    ]
    return sorted(pictures, key=lambda p: p[1] == "crop" and p[0].set_up is LARGEST_EYES)


def _plan(set_up: SetUp, person: str, seed: int) -> dict[int, Visit]:
    """Reference and visits of one person, by number."""
    random = np.random.default_rng((SEED, seed))
    focus_m = round(set_up.distance_m * (1 + float(random.uniform(-FOCUS_OFF, FOCUS_OFF))), 4)
    camera_tilt = float(random.uniform(-1.0, 4.0))
    turns = np.concatenate(
        [random.permutation([(k % 3 + random.random()) * 10 for k in range(3)])
         for _ in range(VISITS // 3)]
    )  # fmt: skip
    upright = "seated" if person in ALWAYS_SEATED else "standing"
    found = {}
    for number in range(-1, VISITS):
        first = number < 0
        sits = number in (3, 9)
        steps = upright == "standing" and number in (5, 11)
        reach = NEAR_M if number % 2 else WITHIN_M
        found[number] = Visit(
            set_up,
            person,
            number,
            focus_m,
            0.0 if first else float(random.uniform(-reach, reach)),
            0.0 if first else float(random.uniform(-1, 1)),
            "seated" if sits else "stepping" if steps else upright,
            {1: "lamp", 6: "evening", 10: "lamp"}.get(number, "window"),
            float(random.normal(0, 2)) if first else
            float(turns[number] * random.choice([-1, 1])),
            float(random.uniform(-3, 3) if first else random.uniform(-12, 12)),
            float(random.uniform(-2, 2) if first else random.uniform(-10, 10)),
            camera_tilt,
            int(random.integers(1 << 30)),
        )  # fmt: skip
    return found


def _posture(visit: Visit, body: RestBody, random: np.random.Generator) -> Posture:
    """At the origin, facing the camera, with arms anywhere unless it is the reference."""
    make = {"standing": standing, "stepping": stepping, "seated": seated}[visit.posture]
    base = make(body, random)
    if visit.number < 0:
        return base
    lean = pitch(float(random.uniform(-0.06, 0.10))) @ roll(float(random.uniform(-0.07, 0.07)))
    base = replace(base, thorax=base.thorax @ lean)
    if random.random() < 0.15:
        return replace(base, arms=arms_crossed(body, random).arms)
    arms: dict[Side, Arm] = dict(base.arms)
    for side in SIDES:
        if random.random() < 0.7:
            upper, fore = ARMS[str(random.choice(list(ARMS)))]
            out = np.array([1.0 if side == "L" else -1.0, 1.0, 1.0])
            arms[side] = Arm(
                unit(out * upper + random.normal(0, 0.08, 3)),
                unit(out * fore + random.normal(0, 0.08, 3)),
                float(random.uniform(0.2, 0.9)),
            )
    return replace(base, arms=arms)


def _faced(visit: Visit, posture: Posture, neck: Array, lens: Array) -> Posture:
    """With the head turned, nodded and tilted away from looking into the lens."""
    towards = lens - neck
    heading = math.atan2(towards[0], -towards[1])
    down = math.atan2(-towards[2], float(np.hypot(towards[0], towards[1])))
    turned, nodded, tilted = (
        math.radians(a) for a in (visit.turned_deg, visit.nodded_deg, visit.tilted_deg)
    )
    return replace(posture, head=yaw(heading + turned) @ pitch(down + nodded) @ roll(tilted))


def _stand(
    visit: Visit, body: RestBody, camera: Camera, eyes_m: Array, random: np.random.Generator
) -> tuple[PosedBody, Array, float]:
    """The person so that the eyes are at x and z of the camera frame; floor place and turn."""
    turn = math.radians(0.6 * visit.turned_deg)
    if visit.number >= 0:
        turn += math.radians(float(random.uniform(-15, 15)))
    for _ in range(50):
        base = _posture(visit, body, random)
        place = np.array([eyes_m[0], eyes_m[2]])
        posed = pose(body, placed(body, base, place, turn, None))
        for _ in range(5):
            posture = placed(body, base, place, turn, None)
            posed = pose(body, _faced(visit, posture, posed.points["left_eyeball"],
                                      camera.position))  # fmt: skip
            eyes = true_points(camera, posed)["eye_mid"]
            place = place + np.array([eyes_m[0] - eyes[0], eyes_m[2] - eyes[2]])
        if _face_free(camera, posed):
            break
    return posed, place, turn


def _face_free(camera: Camera, posed: PosedBody) -> bool:
    """Whether neither hand covers the face."""
    points = true_points(camera, posed)
    for side in ("left", "right"):
        elbow, wrist = points[f"{side}_elbow"], points[f"{side}_wrist"]
        for reach in (0.0, 0.5, 0.8):
            hand = wrist + reach * (wrist - elbow)
            if float(np.hypot(*(hand - points["eye_mid"])[:2])) < 0.2:
                return False
    return True


def _camera(visit: Visit, eye_height_m: float) -> Camera:
    """The feed's camera, with the eyes in the upper part of its picture."""
    camera = Camera(
        *FEED_PX, lens_mm=visit.set_up.lens_mm, f_number=visit.set_up.f_number,
        focus_m=visit.focus_m, tilt_rad=math.radians(visit.camera_tilt_deg),
    )  # fmt: skip
    z = camera.focus_from_lens_m
    up = 0.35 * z * FEED_PX[1] / 2 / camera.focal_px
    tilt = camera.tilt_rad
    height = eye_height_m + z * math.sin(tilt) - up * math.cos(tilt)
    return replace(camera, height_m=round(height, 3))


def arrange(visit: Visit, body: RestBody) -> tuple[Camera, PosedBody, Array, float]:
    """Camera, posed body, floor place and turn of the body."""
    usual = 0.93 * body.stature_m + SHOE_SOLE_M - 0.01
    if visit.posture == "seated":
        sitting = seated(body, np.random.default_rng(SEED))
        usual = float(pose(body, sitting).points["left_pupil"][2])
    camera = _camera(visit, usual)
    z = camera.focus_from_lens_m + visit.off_m
    across = min(0.28 * FEED_PX[0] / 2 / camera.focal_px * z, 0.22)
    random = np.random.default_rng(visit.seed)
    eyes = np.array([visit.aside * across, 0.0, z])
    return camera, *_stand(visit, body, camera, eyes, random)


def head_box(camera: Camera, world: Sequence[Array], posed: PosedBody) -> Box:
    """The head in a picture of that camera, with a margin."""
    ears = camera.to_camera((posed.points["left_ear"] + posed.points["right_ear"]) / 2)
    points = camera.to_camera(np.concatenate(world))
    off = points - ears
    near = (np.linalg.norm(off, axis=1) < 0.21) & (np.abs(off[:, 0]) < 0.14) & (off[:, 1] < 0.13)
    seen = camera.project(points[near])
    margin = 0.01 * camera.focal_px / float(ears[2])
    left, top = np.floor(seen.min(axis=0) - margin).astype(int)
    right, bottom = np.ceil(seen.max(axis=0) + margin).astype(int)
    edge = (camera.height_px - camera.width_px * FEED_PX[1] // FEED_PX[0]) // 2
    return (
        max(int(left), 0), max(int(top), edge),
        min(int(right), camera.width_px), min(int(bottom), camera.height_px - edge),
    )  # fmt: skip


def eyes_box(camera: Camera, posed: PosedBody) -> Box:
    """Eyes and brows: what the review measures, and a little around."""
    points = [camera.to_camera(posed.points[f"{side}_pupil"]) for side in ("left", "right")]
    seen = camera.project(np.stack(points))
    unit_px = 0.063 * camera.focal_px / float(points[0][2])
    left, top = seen.min(axis=0) - np.array([0.48, 0.64]) * unit_px
    right, bottom = seen.max(axis=0) + np.array([0.48, 0.42]) * unit_px
    return int(left), int(top), int(right), int(bottom)


def take_feed(studio: Studio, camera: Camera, world: Sequence[Array], room: Picture) -> Picture:
    """The person before the empty room."""
    studio.place_camera(camera)
    everything = [*world, *studio.extra_vertices()]
    return studio.render_box_over(room, person_box(camera, everything), camera)


def take_room(studio: Studio, camera: Camera) -> Picture:
    """The empty room, out of focus as it is rendered at a third of the size."""
    studio.show_person(False)
    small = replace(camera, width_px=camera.width_px // 3, height_px=camera.height_px // 3)
    studio.place_camera(small)
    room = Image.fromarray(studio.render(samples=3))
    studio.show_person(True)
    size = (camera.width_px, camera.height_px)
    return np.asarray(room.resize(size, Image.Resampling.BICUBIC))


def take_crop(studio: Studio, camera: Camera, feed: Picture, box: Box, eyes: Box) -> Picture:
    """The eyes from many rays, without the denoiser, in the enlarged feed."""
    studio.place_camera(camera)
    cycles = studio.scene.cycles
    cycles.use_denoising = False  # it would sharpen and smear what is to be measured
    cycles.use_adaptive_sampling, cycles.adaptive_threshold = True, NOISE
    inner = studio.render(eyes, MOST_RAYS).astype(np.float32)
    cycles.use_denoising, cycles.use_adaptive_sampling = True, False
    scale = FEED_PX[0] / camera.width_px
    edge = (camera.height_px - FEED_PX[1] / scale) / 2
    part = ((box[0]) * scale, (box[1] - edge) * scale, (box[2]) * scale, (box[3] - edge) * scale)
    around = np.asarray(
        Image.fromarray(feed).resize(
            (box[2] - box[0], box[3] - box[1]), Image.Resampling.BICUBIC, part
        )
    ).astype(np.float32)
    left, top = eyes[0] - box[0], eyes[1] - box[1]
    height, width = inner.shape[:2]
    ramps = [np.minimum(np.minimum(np.arange(n) + 1, n - np.arange(n)) / 8, 1.0)
             for n in (height, width)]  # fmt: skip
    weight = np.outer(*ramps)[..., None].astype(np.float32)
    under = around[top : top + height, left : left + width]
    under += weight * (inner - under)
    return np.clip(np.rint(around), 0, 255).astype(np.uint8)


def record(
    visit: Visit,
    feed: Camera,
    picture: Camera,
    body: RestBody,
    posed: PosedBody,
    box: Box,
    eyes_part: Box,
) -> dict[str, Any]:
    """The truth of one pair of pictures, ready for JSON."""
    points = true_points(feed, posed)
    eyes = np.stack([points["left_pupil"], points["right_pupil"]])
    z, s = eyes[:, 2], feed.focus_from_lens_m
    f = feed.lens_mm / 1000
    blur_m = f * f * np.abs(z - s) / (feed.f_number * z * (s - f))
    in_picture = picture.project(eyes) - np.array(box[:2])
    ahead = posed.transforms[body.bone("head"), :, :3] @ FORWARD
    to_lens = unit(feed.position - posed.points["left_eyeball"])
    return {
        "name": visit.name,
        "set_up": visit.set_up.name,
        "lens_mm": visit.set_up.lens_mm,
        "f_number": visit.set_up.f_number,
        "stated_from_sensor_m": visit.set_up.distance_m,
        "focus_from_sensor_m": visit.focus_m,
        "focus_from_lens_m": round(s, 5),
        "person": visit.person,
        "sex": body.build.sex,
        "stature_m": round(body.stature_m, 4),
        "visit": visit.number,
        "reference": visit.number < 0,
        "posture": visit.posture,
        "light": visit.light,
        "turned_deg": round(visit.turned_deg, 2),
        "nodded_deg": round(visit.nodded_deg, 2),
        "tilted_deg": round(visit.tilted_deg, 2),
        "off_lens_deg": round(math.degrees(math.acos(float(np.clip(ahead @ to_lens, -1, 1)))), 2),
        "eyes_from_lens_m": [round(float(v), 5) for v in z],
        "eyes_from_sensor_m": [round(float(v) + feed.image_distance_mm / 1000, 5) for v in z],
        "eye_mid_m": [round(float(v), 5) for v in points["eye_mid"]],
        "blur_mm": [round(float(b) * 1000, 5) for b in blur_m],
        "blur_px": [round(float(b) / 0.036 * PICTURE_PX[0], 3) for b in blur_m],
        "feed_file": f"{visit.name}_feed.jpg",
        "crop_file": f"{visit.name}_crop.jpg",
        "crop_box_px": list(box),
        "eyes_box_px": list(eyes_part),
        "picture_px": list(PICTURE_PX),
        "eyes_in_crop_px": [[round(float(v), 2) for v in eye] for eye in in_picture],
        "joints": {name: [round(float(v), 4) for v in points[name]] for name in points},
        "camera": camera_record(feed),
    }


def render_all(out: Path, pictures: Sequence[tuple[Visit, Part]], samples: int) -> Iterator[str]:
    """Render what is not there yet; a line per picture. samples: rays per pixel of the feed."""
    out.mkdir(parents=True, exist_ok=True)
    log = out / "truth.jsonl"
    done = set()
    if log.exists():
        done = {json.loads(line)["name"] for line in log.read_text().splitlines()}
    studio = Studio("normal", samples=samples)
    dressed = ""
    rooms: dict[tuple[Camera, str], Picture] = {}
    for visit, part in pictures:
        file = out / f"{visit.name}_{part}.jpg"
        if visit.name in done if part == "feed" else file.exists():
            continue
        start, spent = time.monotonic(), time.process_time()
        body = build_body(PEOPLE[visit.person][0])
        if dressed != visit.person:
            surfaces = Wardrobe(body, PEOPLE[visit.person][1]).surfaces()
            studio.dress(surfaces, fine=True)
            dressed = visit.person
            rooms.clear()
        feed, posed, place, turn = arrange(visit, body)
        picture = replace(feed, width_px=PICTURE_PX[0], height_px=PICTURE_PX[1])
        parts, exposure, noise = LIGHTS[visit.light]
        studio.relight(parts, exposure)
        studio.remove_extras()
        if part == "feed" and (feed, visit.light) not in rooms:
            rooms[feed, visit.light] = take_room(studio, feed)
        if visit.posture == "seated":
            studio.add_extra(props.chair(studio.scene, place, turn, CHAIR_SEAT_M))
        world = studio.pose(posed)
        box, eyes = head_box(picture, world, posed), eyes_box(picture, posed)
        if part == "feed":
            clean = take_feed(studio, feed, world, rooms[feed, visit.light])
            noisy = clean + np.random.default_rng(visit.seed).normal(0, noise, clean.shape)
            seen = np.clip(np.rint(noisy), 0, 255).astype(np.uint8)
            Image.fromarray(seen).save(file, quality=92)
            truth = record(visit, feed, picture, body, posed, box, eyes)
            with log.open("a") as stream:
                stream.write(json.dumps(truth) + "\n")
        else:
            around = np.asarray(Image.open(out / f"{visit.name}_feed.jpg"))
            crop = take_crop(studio, picture, around, box, eyes)
            half = file.with_suffix(".part.jpg")
            Image.fromarray(crop).save(half, quality=92, subsampling=0)
            half.rename(file)
        yield (
            f"{file.name} {time.monotonic() - start:.1f} s, processor "
            f"{time.process_time() - spent:.1f} s"
        )


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first", type=int, help="only the first so many pictures")
    parser.add_argument("--samples", type=int, default=2, help="rays per pixel of the feed")
    options = parser.parse_args()
    pictures = design()[: options.first]
    for number, line in enumerate(render_all(options.out, pictures, options.samples)):
        print(number + 1, "of", len(pictures), line, flush=True)


if __name__ == "__main__":
    main()
