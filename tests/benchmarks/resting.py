"""What the run's rest saves, and how soon it ends: `python -m tests.benchmarks.resting`.

The part of the shipped clip in which the person stands in the zone, forwards and backwards, as
motion JPEG from a camera of 30 pictures a second, with the rest and without, in turn; each case is
a process of its own, and its first seconds do not count. Then how soon the rest ends: the person
stands, and walks out of the zone. What rest does to the words: `guidance_words --rest`.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.feed.video_file import VideoFileSource
from assist.guidance.assistant import Moment
from assist.guidance.guide import Action
from assist.output.listeners import Listeners
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from assist.run.live import LiveOptions, LiveRun
from assist.setup.set_up import load
from tests.benchmarks import stage_set
from tests.benchmarks.guidance_words import read_truth
from tests.benchmarks.tables import ROOT, keep, machine, table

STANDS = slice(262, 335)
"""Pictures of the clip in which the person stands in the zone."""
BACK_TO = 150
CLIP_HZ = 25
RATE_HZ = 30.0
SETTLING_S, MEASURED_S = 4.0, 12.0
ROUNDS = 3
MOVING_M_S = 0.15
"""Faster than that the eyes do not sway; half of what counts as walking."""

Rest = Literal["live", "never"]


def _pictures() -> list[ColourImage]:
    capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
    pictures = []
    while (read := capture.read())[0]:
        pictures.append(read[1])
    return pictures


def _write(path: Path, pictures: Sequence[ColourImage]) -> None:
    """As motion JPEG, as webcams send it."""
    height, width = pictures[0].shape[:2]
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), CLIP_HZ, (width, height))
    for picture in pictures:
        writer.write(picture)
    writer.release()


def standing_clip(folder: Path) -> Path:
    """The person standing, forwards and backwards."""
    part = _pictures()[STANDS]
    path = folder / "stands.avi"
    _write(path, [*part, *part[-2:0:-1]])
    return path


def cores_used(clip: Path, rest: Rest, *, whole: bool) -> dict[str, float]:
    """Of this process, over the measured seconds. whole: with a window, sound and second screen."""
    set_up = load(demo.sample_folder() / demo.SET_UP)
    source = stage_set.PacedClip(clip, RATE_HZ, round(RATE_HZ * (SETTLING_S + MEASURED_S)))
    marks: list[tuple[float, float]] = []
    looks: list[float] = []

    def note(moment: Moment) -> None:
        looks.append(time.perf_counter())
        if not marks and len(looks) > 1 and looks[-1] - looks[0] >= SETTLING_S:
            marks.append((looks[-1], time.process_time()))

    with (
        stage_set.display(),
        stage_set.listeners(set_up) as ears,
        MediaPipePoseDetector(lookout=True) as found,
    ):
        LiveRun(
            set_up, source, found, LiveOptions(window=whole, rest=rest, timer=None),
            listener=Listeners(ears) if whole else None, on_moment=note,
        ).run()  # fmt: skip
        wall_s = time.perf_counter() - marks[0][0]
        cpu_s = time.process_time() - marks[0][1]
    return {
        "cores": cpu_s / wall_s,
        "looks": sum(at >= marks[0][0] for at in looks) / wall_s,
    }


def in_own_process(clip: Path, rest: Rest, whole: bool) -> dict[str, float]:
    """The same, measured in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.resting", "--clip", str(clip), "--rest", rest,
         *(["--whole"] if whole else [])],
        stdout=subprocess.PIPE, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    measured: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return measured


def woken_after_s(folder: Path) -> tuple[float, float]:
    """Seconds from the eyes' first movement to every picture being looked at, and to the new word.

    The end of the shipped clip backwards: the person stands in the zone, then walks out of it.
    """
    pictures = _pictures()
    known = read_truth(demo.sample_folder() / demo.TRUTH)
    order = [*range(STANDS.start, STANDS.stop), *range(STANDS.stop - 2, BACK_TO, -1)]
    clip = folder / "leaves.avi"
    _write(clip, [pictures[index] for index in order])
    moments: list[Moment] = []
    with MediaPipePoseDetector() as detector:
        LiveRun(
            load(demo.sample_folder() / demo.SET_UP), VideoFileSource(clip), detector,
            LiveOptions(window=False, timer=None, orders_by=None, rest="every"),
            on_moment=lambda moment: moments.append(moment.without_picture()),
        ).run()  # fmt: skip
    speed = np.abs(known.speed_m_s[order])
    begin = int(np.flatnonzero(speed[:-CLIP_HZ] > MOVING_M_S)[0])
    seen = {moment.frame.index for moment in moments}
    assert not seen.issuperset(range(begin - CLIP_HZ, begin)), "there was no rest to end"
    full = next(k for k in range(begin, len(order)) if {k, k + 1, k + 2} <= seen)
    left = next(
        m for m in moments if m.frame.index > begin and m.guidance.action is not Action.HOLD
    )
    return (full - begin) / CLIP_HZ, (left.frame.index - begin) / CLIP_HZ


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clip", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--rest", choices=("live", "never"), help=argparse.SUPPRESS)
    parser.add_argument("--whole", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.clip is not None:
        print(json.dumps(cores_used(options.clip, options.rest, whole=options.whole)))
        return
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        clip = standing_clip(Path(folder))
        for whole, what in ((False, "no window, sound or sharing"), (True, "everything on")):
            measured: dict[Rest, list[dict[str, float]]] = {"never": [], "live": []}
            for _ in range(ROUNDS):
                for rest, runs in measured.items():
                    runs.append(in_own_process(clip, rest, whole))
            rows += [
                [
                    what,
                    "rests" if rest == "live" else "never rests",
                    " / ".join(f"{run['cores']:.2f}" for run in runs),
                    f"{statistics.median(run['looks'] for run in runs):.1f}",
                ]
                for rest, runs in measured.items()
            ]
        full_s, word_s = woken_after_s(Path(folder))
    keep(
        "resting",
        f"# What rest saves ({machine()})\n\n"
        f"The standing person of the shipped clip at {RATE_HZ:.0f} pictures a second.\n\n"
        + table(["", "", f"cores used, {ROUNDS} runs", "looks a second"], rows)
        + "\nOf somebody at rest who begins to walk, every picture was looked at again "
        f"{full_s:.2f} s after the first movement, and the word changed after {word_s:.2f} s.\n",
    )


if __name__ == "__main__":
    main()
