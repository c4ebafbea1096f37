"""When the pose network may leave pictures out, and that it never does while something moves."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from assist.feed.video_file import VideoFileSource
from assist.guidance.guide import Action
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.pose.rest import LOOK_EVERY_S, Rest, Settled
from assist.run import demo
from assist.run.live import LiveOptions, LiveRun
from assist.run.resting import Resting
from assist.setup.set_up import load

RATE_HZ = 30
BODY = (500.0, 100.0, 780.0, 700.0)
SCENE = cv2.resize(
    np.random.default_rng(1).integers(0, 256, (45, 80, 3), np.uint8), (1280, 720),
    interpolation=cv2.INTER_CUBIC,
)  # fmt: skip


def noisy(picture, seed, level=6.0):
    noise = np.random.default_rng(seed).normal(0, level, picture.shape)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)


def stepping(picture, shift_px):
    """The scene with what is in the body's box moved aside."""
    left, top, right, bottom = map(int, BODY)
    moved = picture.copy()
    moved[top:bottom, left:right] = np.roll(picture[top:bottom, left:right], shift_px, axis=1)
    return moved


def looks(rest, pictures):
    return [rest.wants(picture, index / RATE_HZ) for index, picture in enumerate(pictures)]


def test_without_leave_every_picture_is_looked_at():
    assert all(looks(Rest(), [SCENE] * 30))


@pytest.mark.parametrize("level", [0.0, 6.0, 15.0])
def test_somebody_who_stands_is_looked_at_ten_times_a_second(level):
    rest = Rest()
    rest.settled = Settled(BODY)
    asked = looks(rest, [noisy(SCENE, seed, level) for seed in range(RATE_HZ)])
    assert sum(asked) == 10
    assert asked[:4] == [True, False, False, True]


def test_whoever_begins_to_move_is_looked_at_within_a_fifth_of_a_second():
    rest = Rest()
    rest.settled = Settled(BODY)
    stands = [noisy(SCENE, seed) for seed in range(30)]
    moves = [noisy(stepping(SCENE, 5 * step), 30 + step) for step in range(1, 16)]
    asked = looks(rest, stands + moves)[30:]
    assert all(asked[6:])


def test_what_moves_beside_the_person_ends_no_rest():
    rest = Rest()
    rest.settled = Settled(BODY)
    leaves = [np.roll(SCENE, 7 * index, axis=1) for index in range(30)]
    for picture in leaves:
        left, top, right, bottom = (int(edge) for edge in (420, 0, 860, 720))
        picture[top:bottom, left:right] = SCENE[top:bottom, left:right]
    assert sum(looks(rest, leaves)) == 10


def test_an_empty_place_is_looked_at_ten_times_a_second_whatever_moves_in_it():
    rest = Rest()
    rest.settled = Settled()
    assert sum(looks(rest, [np.roll(SCENE, 9 * index, axis=1) for index in range(30)])) == 10


def test_a_slow_camera_is_not_slowed_further():
    rest = Rest()
    rest.settled = Settled(BODY)
    assert all(rest.wants(SCENE, index * LOOK_EVERY_S) for index in range(10))


@pytest.fixture(scope="module")
def standing():
    """A moment of the shipped clip in which the person holds."""
    moments = []
    with MediaPipePoseDetector() as detector:
        source = VideoFileSource(demo.sample_folder() / demo.CLIP)
        set_up = load(demo.sample_folder() / demo.SET_UP)
        options = LiveOptions(window=False, timer=None, rest="every")
        run = LiveRun(set_up, source, detector, options, on_moment=moments.append)
        run.run()
    shown = [moment.frame.index for moment in moments if moment.frame.index > 270]
    assert len(shown) < 0.6 * (335 - 270)  # the run did rest, and looked again and again
    return next(m for m in moments if m.frame.index > 270 and m.guidance.action is Action.HOLD)


def heard(moment, seconds=1.2, busy=False):
    resting = Resting()
    for index in range(round(seconds * RATE_HZ)):
        frame = replace(moment.frame, time_s=index / RATE_HZ)
        resting.hear(replace(moment, frame=frame), busy=busy)
    return resting.rest.settled


def test_who_holds_for_a_second_may_be_left_to_rest(standing):
    assert heard(standing) == Settled(standing.pose.box_px)
    assert heard(standing, seconds=0.9) is None


def test_nobody_rests_who_is_to_move_or_is_needed(standing):
    told = replace(standing.guidance, action=Action.FORWARD)
    assert heard(replace(standing, guidance=told)) is None
    assert heard(replace(standing, sure_who=False)) is None
    assert heard(replace(standing, person=replace(standing.person, still=False))) is None
    assert heard(standing, busy=True) is None


def test_nobody_in_view_is_rest(standing):
    nobody = replace(standing.guidance, action=Action.NO_ONE)
    assert heard(replace(standing, pose=None, guidance=nobody)) == Settled()
