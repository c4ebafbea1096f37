"""Speed and accuracy of the live run on the shipped clip: `python -m tests.benchmarks.live_clip`.

Speed: every stage is timed by itself over the whole clip, and then the run as a user starts it
(`assist live CLIP --no-window`), in a process of its own, best of three. Accuracy: against the true
depth of the eyes, with nothing known of the person but the stature. `--readme` puts the accuracy
table into README.md.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import time
from collections import defaultdict
from pathlib import Path

import cv2
import numpy as np

from assist import demo, truth
from assist.assistant import Assistant, Moment
from assist.feed.video_file import VideoFileSource
from assist.overlay.screen import GuidanceScreen, Scene
from assist.pose import ColourImage, Pose
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.set_up import SetUp, load
from assist.verdict import Verdict
from tests.benchmarks.tables import ROOT, keep, machine, put_between, table

NETWORK = "pose network"


class TimedDetector(MediaPipePoseDetector):
    """The detector, with the network's own call timed apart from our conversions."""

    def __init__(self, spent: dict[str, list[float]]) -> None:
        super().__init__()
        self._spent = spent
        inner = self._landmarker.detect_for_video

        def timed(image: object, time_ms: int) -> object:
            began = time.perf_counter()
            found = inner(image, time_ms)
            self._spent[NETWORK].append(time.perf_counter() - began)
            return found

        self._landmarker.detect_for_video = timed

    def detect(self, picture: ColourImage, time_s: float) -> list[Pose]:
        began = time.perf_counter()
        poses = super().detect(picture, time_s)
        whole = time.perf_counter() - began
        self._spent["conversion to and from it"].append(whole - self._spent[NETWORK][-1])
        return poses


def stages(clip: Path, set_up: SetUp) -> tuple[dict[str, list[float]], list[Moment]]:
    """Seconds of each stage for each picture, one after another on one thread."""
    spent: dict[str, list[float]] = defaultdict(list)
    source = VideoFileSource(clip)
    moments = []
    zone = set_up.depth_of_field
    screen = GuidanceScreen(zone, set_up.focus_lens_distance_m, set_up.sensor_offset_m)
    with TimedDetector(spent) as detector:
        assistant = Assistant(set_up, detector)
        while True:
            t0 = time.perf_counter()
            frame = source.read()
            if frame is None:
                break
            t1 = time.perf_counter()
            poses = detector.detect(frame.picture, frame.time_s)
            t2 = time.perf_counter()
            moment = assistant.think(frame, poses)
            t3 = time.perf_counter()
            screen.draw(
                Scene(frame.picture, moment.pose, moment.assessment, moment.guidance,
                      moment.framing, None)
            )  # fmt: skip
            t4 = time.perf_counter()
            spent["decoding"].append(t1 - t0)
            spent["distance, verdict, guidance"].append(t3 - t2)
            spent["guidance screen (with a window or video)"].append(t4 - t3)
            moments.append(moment.without_picture())
    return spent, moments


def whole_run(clip: Path, set_up_file: Path) -> tuple[float, float]:
    """Pictures a second of the command without a window, and seconds to the first verdict."""
    command = [sys.executable, "-c", "from assist.cli import main; main()"]
    arguments = ["live", str(clip), "--set-up", str(set_up_file), "--no-window"]
    done = subprocess.run([*command, *arguments], capture_output=True, text=True, check=True)
    rate = re.search(r"pictures in ([\d.]+) s \(([\d.]+) a second\)", done.stdout)
    assert rate, done.stdout
    probe = (
        "import time; began = time.time()\n"
        "import sys; from assist import live\n"
        "see = live.Assistant.see\n"
        "def first(self, frame):\n"
        "    moment = see(self, frame); print('FIRST', time.time()); live.Assistant.see = see\n"
        "    return moment\n"
        "live.Assistant.see = first\n"
        "from assist.cli import main; sys.argv = ['assist', *sys.argv[1:]]; main()\n"
    )
    began = time.time()
    done = subprocess.run(
        [sys.executable, "-c", probe, *arguments], capture_output=True, text=True, check=True
    )
    first = re.search(r"FIRST ([\d.]+)", done.stdout)
    assert first
    return float(rate[2]), float(first[1]) - began


def accuracy_rows(moments: list[Moment], known: truth.Truth, set_up: SetUp) -> list[list[str]]:
    """Errors of the eyes' distance by what the person does, and the verdicts."""
    zone = set_up.depth_of_field
    near_m, far_m = float(zone.near_m), float(zone.far_m)
    rows = []
    time_s = np.array([m.frame.time_s for m in moments])
    true_m = np.array([known.eyes_at(t) for t in time_s])
    seen_m = np.array(
        [np.nan if (d := m.assessment.distance) is None else d.eyes_m for m in moments]
    )
    sd_m = np.array([np.nan if (d := m.assessment.distance) is None else d.sd_m for m in moments])
    said = np.array([m.assessment.verdict is Verdict.IN_FOCUS for m in moments])
    truly = (true_m >= near_m) & (true_m <= far_m)
    standing = np.abs(np.gradient(true_m, time_s)) < 0.1
    for name, which in (
        ("the whole clip", np.ones(len(moments), bool)),
        ("walking, turning", ~standing),
        ("standing still", standing),
    ):
        use = which & ~np.isnan(seen_m)
        error = seen_m[use] / true_m[use] - 1
        inside = np.abs(seen_m[use] - true_m[use]) <= 1.645 * sd_m[use]
        wrong = (said & ~truly & which).sum()
        right = (said & truly & which).sum()
        rows.append(
            [
                name,
                f"{use.sum()} of {which.sum()}",
                f"{np.median(np.abs(error)):.1%}",
                f"{np.percentile(np.abs(error), 95):.1%}",
                f"{np.mean(error):+.1%}",
                f"{inside.mean():.0%}",
                f"{wrong} of {(~truly & which).sum()}",
                f"{right} of {(truly & which).sum()}",
            ]
        )
    return rows


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readme", action="store_true", help="put the table into README.md")
    options = parser.parse_args()
    samples = demo.sample_folder()
    clip, set_up_file = samples / demo.CLIP, samples / demo.SET_UP
    set_up = load(set_up_file)
    known = truth.load(samples / demo.TRUTH)
    spent, moments = stages(clip, set_up)
    network = float(np.median(spent[NETWORK]))
    rows, outside = [], 0.0
    for stage, seconds in spent.items():
        median = float(np.median(seconds))
        if stage != NETWORK:
            outside += median
        p95 = float(np.percentile(seconds, 95))
        rows.append([stage, f"{median * 1e3:.2f}", f"{p95 * 1e3:.2f}", f"{median / network:.1%}"])
    rows.append(["all outside the network", f"{outside * 1e3:.2f}", "", f"{outside / network:.1%}"])
    runs = [whole_run(clip, set_up_file) for _ in range(3)]
    capture = cv2.VideoCapture(str(clip))
    size = (
        f"{capture.get(cv2.CAP_PROP_FRAME_WIDTH):.0f}x{capture.get(cv2.CAP_PROP_FRAME_HEIGHT):.0f}"
    )
    accuracy = table(
        ["part of the clip", "pictures with a distance", "median error", "95 % within", "bias",
         "in the 90 % interval", "wrongly called in focus", "rightly called in focus"],
        accuracy_rows(moments, known, set_up),
    )  # fmt: skip
    text = (
        f"# The live run on the shipped clip ({size}; {machine()})\n\n"
        + table(["stage", "median, ms", "95th percentile, ms", "of the network's time"], rows)
        + f"\nThe command without a window, best of three: {max(r for r, _ in runs):.0f} pictures "
        f"a second; from start to first verdict {min(s for _, s in runs):.1f} s.\n\n" + accuracy
    )
    keep("live_clip", text)
    if options.readme:
        put_between(ROOT / "README.md", "accuracy", accuracy)


if __name__ == "__main__":
    main()
