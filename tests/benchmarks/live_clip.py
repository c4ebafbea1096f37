"""Accuracy of the live run on the shipped clip: `python -m tests.benchmarks.live_clip`.

Against the true depth of the eyes, with nothing known of the person but the stature. `--guide`
puts the table into README.md. The speed is measured by `tests.benchmarks.pipeline`.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from assist.feed.video_file import VideoFileSource
from assist.guidance.assistant import Assistant, Moment
from assist.guidance.verdict import Verdict
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo, true_distances
from assist.setup.set_up import SetUp, load
from tests.benchmarks.tables import GUIDE, keep, put_between, table


def moments_of(clip: Path, set_up: SetUp) -> list[Moment]:
    """What the assistant makes of every picture."""
    source, moments = VideoFileSource(clip), []
    with MediaPipePoseDetector(lookout=True) as detector:
        assistant = Assistant(set_up, detector)
        while (frame := source.read()) is not None:
            moments.append(assistant.see(frame).without_picture())
    return moments


def accuracy_rows(
    moments: list[Moment], known: true_distances.Truth, set_up: SetUp
) -> list[list[str]]:
    """Errors of the eyes' distance by what the person does, and the verdicts."""
    zone = set_up.focus_zone
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
    parser.add_argument("--guide", action="store_true", help="put the table into the guide")
    options = parser.parse_args()
    samples = demo.sample_folder()
    clip, set_up_file = samples / demo.CLIP, samples / demo.SET_UP
    set_up = load(set_up_file)
    known = true_distances.load(samples / demo.TRUTH)
    moments = moments_of(clip, set_up)
    accuracy = table(
        ["part of the clip", "pictures with a distance", "median error", "95 % within", "bias",
         "in the 90 % interval", "wrongly called in focus", "rightly called in focus"],
        accuracy_rows(moments, known, set_up),
    )  # fmt: skip
    keep("live_clip", f"# Accuracy on the shipped clip\n\n{accuracy}")
    if options.guide:
        put_between(GUIDE / "accuracy.md", "accuracy", accuracy)


if __name__ == "__main__":
    main()
