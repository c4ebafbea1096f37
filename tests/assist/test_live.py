"""The run itself: what it does with a feed that stalls, a raised hand, an interrupt."""

import os
import signal
import subprocess
import sys
import threading
import time

import cv2
import numpy as np
import pytest

from assist.countdown import TimerOptions
from assist.feed import Frame
from assist.guidance import Action
from assist.live import LiveOptions, LiveRun
from assist.session import Session, read_record
from assist.trigger.frame import FrameTrigger
from assist.verdict import Verdict
from tests.assist.footage import SET_UP, SIZE_PX, BlankSource, PlacedDetector


class StallingCamera:
    """A camera that gives pictures for `seconds` and then, until closed, none."""

    live = True
    frames_expected = None
    rate_hz = 25.0

    def __init__(self, seconds):
        self._end_s = time.monotonic() + seconds
        self._closed = threading.Event()
        self._index = -1

    def read(self):
        if time.monotonic() > self._end_s:
            self._closed.wait(20)
            return None
        time.sleep(0.02)
        self._index += 1
        return Frame(np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8), time.monotonic(), self._index)

    def close(self):
        self._closed.set()


class Ear:
    """Remembers when it heard which word; ends the run after a while."""

    def __init__(self, seconds):
        self.heard = []
        self.run = None
        self._end_s = time.monotonic() + seconds

    def hear(self, moment, countdown):
        self.heard.append((time.monotonic(), moment, countdown))
        if time.monotonic() > self._end_s:
            self.run.stop()

    def close(self):
        pass


def test_a_stalled_feed_withdraws_the_verdict_within_a_second(tmp_path):
    camera, ear = StallingCamera(1.5), Ear(3.5)
    session = Session(tmp_path, SET_UP)
    options = LiveOptions(window=False, timer=TimerOptions(2.5))
    ear.run = LiveRun(
        SET_UP, camera, PlacedDetector(lambda _: 4.1), options, session, FrameTrigger(tmp_path),
        listener=ear,
    )  # fmt: skip
    stall_s = camera._end_s
    ear.run.run()
    before = [m.assessment.verdict for t, m, _ in ear.heard if t < stall_s]
    assert before[-1] is Verdict.IN_FOCUS
    late = [(t, m) for t, m, _ in ear.heard if t > stall_s + 0.75]
    assert late
    for _, moment in late:
        assert moment.assessment.verdict is Verdict.NO_ONE
        assert moment.guidance.action is Action.NO_FEED
    # The timer ran on, and the record says what became of it.
    [attempt] = read_record(tmp_path)
    assert attempt.verdict != Verdict.IN_FOCUS.value
    assert "no picture" in attempt.problem
    assert attempt.picture is None


def raised_hand(time_s, pose):
    if 1.0 <= time_s < 2.6:
        pose.image_px[13, 1] = pose.image_px[11, 1] - 40
        pose.image_px[15, 1] = pose.image_px[11, 1] - 110
    return pose


class WavingDetector(PlacedDetector):
    def detect(self, picture, time_s):
        return [raised_hand(time_s, pose) for pose in super().detect(picture, time_s)]


@pytest.mark.parametrize(("gestures", "taken"), [(True, 1), (False, 0)])
def test_a_raised_hand_starts_the_timer(gestures, taken):
    options = LiveOptions(
        window=False, timer=TimerOptions(2.0), timer_at_once=False, gestures=gestures
    )
    run = LiveRun(SET_UP, BlankSource(6.0), WavingDetector(lambda _: 4.1), options)
    outcome = run.run()
    assert len(outcome.attempts) == taken
    if taken:
        assert outcome.attempts[0].feed_time_s == pytest.approx(4.0, abs=0.1)


def test_a_trigger_that_cannot_write_is_reported_and_the_run_goes_on(tmp_path):
    session = Session(tmp_path / "session", SET_UP)
    run = LiveRun(
        SET_UP, BlankSource(3.0), PlacedDetector(lambda _: 4.1),
        LiveOptions(window=False, timer=TimerOptions(1.0)), session,
        FrameTrigger(tmp_path / "gone"),
    )  # fmt: skip
    outcome = run.run()
    assert outcome.pictures == 90
    assert "gone" in outcome.attempts[0].problem
    assert "gone" in read_record(tmp_path / "session")[0].problem


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_interrupted_run_keeps_video_and_record(tmp_path, number):
    clip = tmp_path / "room.mp4"
    writer = cv2.VideoWriter(str(clip), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (320, 180))
    for _ in range(2000):
        writer.write(np.zeros((180, 320, 3), np.uint8))
    writer.release()
    process = subprocess.Popen(
        [sys.executable, "-c", "from assist.cli import main; main()", "live", clip,
         "--lens", "35mm", "--aperture", "2", "--focus", "4m", "--no-window", "--real-time",
         "--no-sound", "--timer", "1s", "--session", tmp_path / "kept",
         "--output", tmp_path / "out.mp4"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    record = tmp_path / "kept" / "record.jsonl"
    deadline_s = time.monotonic() + 60
    while not record.exists() and time.monotonic() < deadline_s:
        time.sleep(0.1)
    time.sleep(0.3)
    process.send_signal(number)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, err) == (0, "")
    assert "attempt 1" in out
    assert len(read_record(tmp_path / "kept")) == 1
    assert cv2.VideoCapture(str(tmp_path / "out.mp4")).get(cv2.CAP_PROP_FRAME_COUNT) > 20
    assert not list(tmp_path.glob(".*part*"))
