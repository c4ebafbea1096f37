"""A stopped picture with something that still changes in it, against people who stand still."""

import cv2
import numpy as np
import pytest

from assist.feed import Frame, Silence
from assist.feed.frozen import FROZEN_AFTER_S, FrozenWatch
from assist.guidance.assistant import Assistant
from assist.guidance.guide import Action
from assist.run import demo
from tests.assist.footage import SET_UP, PlacedDetector

RATE_HZ = 25.0
BODY = (540.0, 200.0, 700.0, 640.0)
"""Where the person stands in the shipped clip from 8.2 s on."""


@pytest.fixture(scope="module")
def standing():
    """The clip's pictures in which the person stands."""
    capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
    pictures = [capture.read()[1] for _ in range(335)]
    return pictures[220:334]


def after(pictures, body=BODY, scale=1.0):
    """When they were first said to be frozen, seconds; None for never."""
    watch = FrozenWatch()
    for index, picture in enumerate(pictures):
        if watch.update(index / RATE_HZ, picture, tuple(edge * scale for edge in body)):
            return index / RATE_HZ
    return None


def noise(picture, index, sd):
    chance = np.random.default_rng(index)
    return np.clip(picture + chance.normal(0, sd, picture.shape), 0, 255).astype(np.uint8)


def jpeg(picture, quality):
    return cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], 1)


LIVE = {
    "as it is": lambda picture, _: picture,
    "noise": lambda picture, index: noise(picture, index, 3),
    "denoised": lambda picture, _: cv2.bilateralFilter(picture, 9, 30, 7),
    "compressed": lambda picture, _: jpeg(picture, 30),
    "low light": lambda picture, index: noise(picture * 0.12, index, 2),
    "low light, denoised": lambda picture, _: (picture * 0.12).astype(np.uint8),
    "dark": lambda picture, _: picture // 40,
}


@pytest.mark.parametrize("kind", LIVE)
def test_a_person_who_stands_is_not_frozen(standing, kind):
    assert after([LIVE[kind](p, k) for k, p in enumerate(standing[:80])]) is None


@pytest.mark.parametrize("slowed", [3, 8])
def test_nor_is_one_who_sways_little(standing, slowed):
    assert after([p for p in standing[: 240 // slowed] for _ in range(slowed)]) is None


def test_nor_a_small_one(standing):
    third = [cv2.resize(p, None, fx=1 / 3, fy=1 / 3, interpolation=cv2.INTER_AREA)
             for p in standing[:80]]  # fmt: skip
    assert after(third, scale=1 / 3) is None


def clock(picture, index):
    seconds = f"{index // 25:02d}:{index % 25:02d}"
    return cv2.putText(picture.copy(), seconds, (40, 60), 0, 1.5, (255, 255, 255), 3)


def dot(picture, index):
    colour = (0, 0, 255) if index // 12 % 2 else (0, 0, 0)
    return cv2.circle(picture.copy(), (1200, 60), 15, colour, -1)


def figures_over_the_feet(picture, index):
    return cv2.putText(picture.copy(), f"TC {index:06d}", (480, 630), 0, 1.5, (255, 255, 255), 3)


STOPPED = {
    "equal": lambda picture, _: picture,
    "clock": clock,
    "dot": dot,
    "figures": figures_over_the_feet,
    "compressed anew": lambda picture, index: jpeg(picture, (90, 40, 75, 60)[index % 4]),
    "all": lambda picture, index: jpeg(dot(clock(picture, index), index), 50 + index % 45),
}


@pytest.mark.parametrize("kind", STOPPED)
@pytest.mark.parametrize("at", [0, 60])
def test_a_stopped_picture_is_noticed_whatever_runs_on_in_it(standing, kind, at):
    pictures = [*standing[: at // 4], *(STOPPED[kind](standing[at], k) for k in range(60))]
    noticed_s = after(pictures)
    assert noticed_s is not None
    assert FROZEN_AFTER_S <= noticed_s - at // 4 / RATE_HZ <= 2.0


def test_it_is_over_with_the_first_movement(standing):
    watch = FrozenWatch()
    for index in range(60):
        watch.update(index / RATE_HZ, clock(standing[0], index), BODY)
    assert watch.update(2.3, clock(standing[0], 60), BODY)
    assert not watch.update(2.6, standing[60], BODY)


@pytest.mark.parametrize("live", [True, False])
def test_hold_is_withdrawn_of_a_camera_and_a_file_may_stand_still(live):
    assistant = Assistant(SET_UP, PlacedDetector(lambda _: 4.0), live=live)
    scene = np.random.default_rng(3).integers(0, 255, (45, 80, 3), np.uint8)
    scene = cv2.resize(scene, (640, 360), interpolation=cv2.INTER_CUBIC)
    told = []
    for index in range(75):
        picture = scene.copy()
        picture[4:12, 4:12] = 255 * (index % 2)
        told.append(assistant.see(Frame(picture, index / RATE_HZ, index)).guidance)
    assert Action.HOLD in {guidance.action for guidance in told[:38]}
    late = {(guidance.action, guidance.silence) for guidance in told[50:]}
    assert late == ({(Action.NO_FEED, Silence.FROZEN)} if live else {(Action.HOLD, None)})
