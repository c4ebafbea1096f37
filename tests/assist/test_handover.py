"""Handing pictures from thread to thread, and the network on a thread of its own."""

import gc
import subprocess
import sys
import threading
import time
import weakref

import numpy as np
import pytest

from assist.base.handover import Handover, until_closed
from assist.feed import Frame
from assist.feed.reader import FeedReader
from assist.output.screen.miniature import Miniatures
from assist.pose.reader import PoseReader
from tests.assist.footage import BlankSource, PlacedDetector


def test_every_one_is_handed_over_in_turn_and_no_more_wait_than_there_is_room_for():
    handover, made = Handover(3), []

    def make():
        if len(made) == 50:
            return None
        made.append(len(made))
        return made[-1]

    thread = threading.Thread(target=until_closed, args=(handover, make), daemon=True)
    thread.start()
    time.sleep(0.2)
    assert len(made) <= 4  # three that wait and one in hand
    taken = []
    while not handover.ended:
        item = handover.take(5.0)
        if item is not None:
            taken.append(item)
    assert taken == list(range(50))
    thread.join(5.0)
    assert not thread.is_alive()


def test_where_only_the_newest_counts_the_others_are_dropped():
    handover = Handover(None)
    for item in range(10):
        handover.put(item)
    assert handover.take(0.0) == 9
    assert handover.take(0.0) is None
    assert not handover.ended
    handover.end()
    assert handover.ended


def test_closing_lets_go_of_a_thread_that_waits_for_room():
    handover = Handover(1)
    thread = threading.Thread(target=until_closed, args=(handover, lambda: 1), daemon=True)
    thread.start()
    handover.close()
    thread.join(5.0)
    assert not thread.is_alive()


def test_what_the_maker_raises_is_raised_to_the_taker_after_what_it_had_made():
    handover = Handover(4)
    things = iter([1, 2])

    def make():
        found = next(things, None)
        if found is None:
            raise ValueError("broken")
        return found

    until_closed(handover, make)
    assert [handover.take(1.0), handover.take(1.0)] == [1, 2]
    with pytest.raises(ValueError, match="broken"):
        handover.take(1.0)
    assert handover.ended


class SlowDetector(PlacedDetector):
    """Takes its time, and says on which threads it was called and with which times."""

    def __init__(self, seconds):
        super().__init__(lambda time_s: 4.0 + time_s)
        self.seconds, self.ran_on, self.times_s = seconds, set(), []

    def detect(self, picture, time_s):
        self.ran_on.add(threading.current_thread().name)
        self.times_s.append(time_s)
        time.sleep(self.seconds)
        return super().detect(picture, time_s)


def sightings(reader):
    found = []
    while not reader.ended:
        sighting = reader.read(5.0)
        if sighting is not None:
            found.append(sighting)
    return found


def test_of_a_file_every_picture_is_seen_in_order_on_one_other_thread():
    detector = SlowDetector(0.001)
    with FeedReader(BlankSource(1.0)) as feed, PoseReader(feed, detector) as reader:
        found = sightings(reader)
        assert reader.now_s() == found[-1].frame.time_s
    assert [s.frame.index for s in found] == list(range(30))
    assert detector.times_s == [s.frame.time_s for s in found]
    assert detector.ran_on == {"pose"}
    for sighting in found:
        [pose] = sighting.poses
        [expected] = PlacedDetector(lambda t: 4.0 + t).detect(None, sighting.frame.time_s)
        assert (pose.image_px == expected.image_px).all()


def test_the_reader_does_other_work_once_a_picture_has_been_handed_over():
    done, frames = [], []
    with FeedReader(BlankSource(0.5), meanwhile=done.append) as feed:
        while not feed.ended:
            frame = feed.read(5.0)
            if frame is not None:
                frames.append(frame)
    assert len(frames) == 15
    assert [id(picture) for picture in done] == [id(frame.picture) for frame in frames]


def test_the_network_works_while_the_last_picture_is_shown():
    seen, shown = threading.Event(), threading.Event()

    class Waiting(PlacedDetector):
        def detect(self, picture, time_s):
            if time_s > 0:  # the second picture: done only when the first is being shown
                seen.set()
                assert shown.wait(10.0)
            return super().detect(picture, time_s)

    with (
        FeedReader(BlankSource(2 / 30)) as feed,
        PoseReader(feed, Waiting(lambda _: 4.0)) as reader,
    ):
        assert reader.read(10.0).frame.index == 0
        assert seen.wait(10.0)  # at work on the next although nobody has asked for it
        shown.set()
        assert reader.read(10.0).frame.index == 1


class Ticking:
    """A live source of 200 pictures a second."""

    live, frames_expected, rate_hz = True, None, 200.0

    def __init__(self, count):
        self._left = count
        self._index = -1

    def read(self):
        if self._index + 1 == self._left:
            return None
        time.sleep(0.005)
        self._index += 1
        return Frame(np.full((90, 160, 3), self._index, np.uint8), time.monotonic(), self._index)

    def close(self):
        pass


def test_of_a_camera_only_the_newest_is_seen_and_nothing_piles_up():
    with FeedReader(Ticking(100)) as feed, PoseReader(feed, SlowDetector(0.03)) as reader:
        found = sightings(reader)
    indices = [s.frame.index for s in found]
    assert indices == sorted(set(indices))
    assert len(indices) < 60
    assert indices[-1] == 99  # the very newest is never the one that is left out


def test_what_the_network_raises_ends_the_run_with_it():
    class Broken(PlacedDetector):
        def detect(self, picture, time_s):
            raise RuntimeError("the network is gone")

    with FeedReader(BlankSource(1.0)) as feed, PoseReader(feed, Broken(None)) as reader:
        with pytest.raises(RuntimeError, match="is gone"):
            reader.read(5.0)
        assert reader.ended


def test_a_miniature_made_ahead_is_the_one_that_would_be_made_later():
    rng = np.random.default_rng(2)
    one, other = rng.integers(0, 256, (2, 360, 640, 3), np.uint8)
    miniatures = Miniatures()
    later = miniatures.of(one, (320, 180))
    miniatures.make(one)
    miniatures.make(other)
    assert (miniatures.of(one, (320, 180)) == later).all()
    assert (miniatures.of(other, (320, 180)) == Miniatures().of(other, (320, 180))).all()
    miniatures.make(one)
    assert miniatures.of(one, (160, 90)).shape == (90, 160, 3)  # the window has changed meanwhile


def test_a_miniature_keeps_no_picture_alive():
    miniatures = Miniatures()
    miniatures.of(np.zeros((90, 160, 3), np.uint8), (16, 9))
    picture = np.zeros((90, 160, 3), np.uint8)
    miniatures.make(picture)
    gone = weakref.ref(picture)
    del picture
    gc.collect()
    assert gone() is None


QUIET = """
import sys, threading, time
from assist.run import demo
from assist.feed.video_file import VideoFileSource
from assist.pose.mediapipe_backend import MediaPipePoseDetector

with MediaPipePoseDetector(lookout=True) as detector:
    over = threading.Event()
    def talk():
        while not over.wait(0.005):
            print("tick", file=sys.stderr, flush=True)
            ticks.append(1)
    ticks = []
    talker = threading.Thread(target=talk)
    talker.start()
    source, found = VideoFileSource(demo.sample_folder() / demo.CLIP), []
    while len(found) < 40:
        frame = source.read()
        found.append(bool(detector.detect(frame.picture, frame.time_s)))
    over.set()
    talker.join()
print(len(ticks), any(found), all(found))
"""


def test_the_networks_chatter_is_kept_off_the_terminal_and_nothing_else_is():
    done = subprocess.run(
        [sys.executable, "-c", QUIET], capture_output=True, text=True, check=True, timeout=120
    )
    ticks, found, always = done.stdout.split()
    assert (found, always) == ("True", "False")  # first no one, then somebody
    assert done.stderr.splitlines() == ["tick"] * int(ticks)
