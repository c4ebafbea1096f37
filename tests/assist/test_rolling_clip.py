"""A rendered person in a wheeled seat rolls forward into the zone and sits there.

The clip is made by `python -m samples.rendering.cut` (see there) from `samples.rendering.walks`.
"""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from assist.feed.video_file import VideoFileSource
from assist.guidance.countdown import TimerOptions
from assist.guidance.verdict import Verdict
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import true_distances
from assist.run.live import LiveOptions, LiveRun
from assist.setup.body import Posture
from assist.setup.set_up import from_values
from tests.assist.telling import told

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="module")
def set_up():
    camera = json.loads((DATA / "rolls_in.camera.json").read_text())
    return from_values(
        {
            "lens": {
                "focal_length_mm": camera["focal_length_mm"],
                "f_number": camera["f_number"],
                "focus_distance_m": camera["focus_distance_from_sensor_m"],
            },
            "person": {"stature_m": 1.70},
        }
    )


@pytest.fixture(scope="module")
def run(set_up):
    moments = []
    with MediaPipePoseDetector() as detector:
        outcome = LiveRun(
            set_up, VideoFileSource(DATA / "rolls_in.mp4"), detector,
            LiveOptions(window=False, timer=TimerOptions(3.5)),
            on_moment=lambda m: moments.append(m.without_picture()),
        ).run()  # fmt: skip
    return moments, outcome


def test_seen_to_sit_and_never_to_stand(run):
    postures = [m.person.posture for m in run[0]]
    assert Posture.STANDING not in postures
    assert postures.count(Posture.SEATED) > 0.5 * len(postures)


def test_nothing_is_told_in_steps(run, set_up):
    for moment in run[0]:
        said = told(moment, set_up)
        words = " ".join((said.sentence, said.caution, said.spoken, *said.also))
        assert not re.search(r"step|walk|stand", words), words


def test_distance_of_the_eyes(run):
    known = true_distances.load(DATA / "rolls_in.truth.csv")
    error = [
        d.eyes_m / known.eyes_at(m.frame.time_s) - 1
        for m in run[0]
        if (d := m.assessment.distance) is not None
    ]
    assert len(error) > 0.8 * len(run[0])
    assert np.median(np.abs(error)) < 0.10


def test_in_focus_is_never_said_outside_the_zone(run, set_up):
    known = true_distances.load(DATA / "rolls_in.truth.csv")
    zone = set_up.focus_zone
    for moment in run[0]:
        if moment.assessment.verdict is Verdict.IN_FOCUS:
            assert zone.near_m <= known.eyes_at(moment.frame.time_s) <= zone.far_m


def test_no_order_is_seen_in_the_hands_on_the_wheels(run):
    """A gesture would have paused the timer; it ran to zero."""
    assert len(run[1].attempts) == 1
