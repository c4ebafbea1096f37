"""Black bars in a feed without a profile: found in its first pictures, and told once."""

import shlex

import cv2
import numpy as np
import pytest

from assist.assistant import Known
from assist.calibrate.framing import PictureArea
from assist.cli import bars
from assist.feed import Frame
from assist.feed.bars import BarsWatch
from assist.profile import PersonalProfile, now
from assist.set_up import from_values
from assist.trouble import Notices, Trouble
from tests.assist.command_lines import parse

SIZE_PX = (640, 360)
LENS = {"focal_length_mm": 35, "f_number": 4, "focus_distance_m": 4.0}


def set_up(**parts):
    return from_values({"lens": LENS, **parts})


def scene(seed, size_px):
    """A lit room with noise in it."""
    width, height = size_px
    ramp = np.tile(np.linspace(60, 200, width)[None, :, None], (height, 1, 3))
    return (ramp + np.random.default_rng(seed).normal(0, 3, ramp.shape)).astype(np.uint8)


def boxed(picture):
    """In the middle of a black feed, with a little noise in the bars."""
    across, down = ((SIZE_PX[0] - picture.shape[1]) // 2, (SIZE_PX[1] - picture.shape[0]) // 2)
    feed = cv2.copyMakeBorder(picture, down, down, across, across, cv2.BORDER_CONSTANT)
    return cv2.add(feed, np.random.default_rng(1).integers(0, 4, feed.shape, np.uint8))


class Film:
    """Eight seconds of the pictures that `picture(index)` makes, ten a second."""

    live = False
    frames_expected = 80
    rate_hz = 10.0

    def __init__(self, picture):
        self._picture = picture
        self._index = 0
        self.given = []
        self.closed = False

    def read(self):
        if self._index == self.frames_expected:
            return None
        frame = Frame(self._picture(self._index), self._index / self.rate_hz, self._index)
        self._index += 1
        self.given.append(frame)
        return frame

    def close(self):
        self.closed = True


def watched(film, monkeypatch):
    """What was found in the film, and how many of its pictures were looked at."""
    found, looked = [], []

    def counting(picture):
        looked.append(1)
        return cv2.max(cv2.max(picture[..., 0], picture[..., 1]), picture[..., 2])

    monkeypatch.setattr("assist.feed.bars.brightest", counting)
    watch = BarsWatch(film, lambda *what: found.append(what))
    read = []
    while (frame := watch.read()) is not None:
        read.append(frame)
    watch.close()
    watch.close()
    assert film.closed
    assert all(one is other for one, other in zip(read, film.given, strict=True))
    return found, len(looked)


def test_bars_are_told_once_from_few_pictures(monkeypatch):
    film = Film(lambda index: boxed(scene(index, (540, 360))))
    found, looked = watched(film, monkeypatch)
    assert found == [(PictureArea(50, 0, 540, 360), 640, 360)]
    assert looked <= 12


def test_nothing_is_said_of_a_feed_without_bars_or_too_dark_to_tell(monkeypatch):
    assert watched(Film(lambda index: scene(index, SIZE_PX)), monkeypatch)[0] == []

    def night(index):
        return np.random.default_rng(index).integers(0, 8, (360, 640, 3), np.uint8)

    found, looked = watched(Film(night), monkeypatch)
    assert found == []
    assert looked <= 12


def test_a_feed_that_is_black_or_rubbish_at_first(monkeypatch):
    def slow_start(index):
        if index < 15:
            return np.zeros((360, 640, 3), np.uint8)
        return np.zeros((0, 0), np.uint8) if index < 20 else boxed(scene(index, (540, 360)))

    assert len(watched(Film(slow_start), monkeypatch)[0]) == 1


@pytest.mark.parametrize(
    ("parts", "area", "wrong"),
    [
        # 36 mm over 540 pixels, and not over 640.
        ({}, (540, 360), 640 / 540 - 1),
        # A 4:3 picture from a 3:2 sensor shows its whole height of 24 mm in 360 pixels.
        ({}, (480, 360), 640 / 36 / (360 / 24) - 1),
        ({"feed": {"horizontal_field_of_view_deg": 60, "through": "own-lens"}}, (540, 360),
         640 / 540 - 1),
        ({"feed": {"horizontal_field_of_view_deg": 60, "through": "own-lens"}}, (640, 320), 0.0),
    ],
)  # fmt: skip
def test_by_how_much_distances_are_wrong(parts, area, wrong):
    area = PictureArea.centred(*area, *SIZE_PX)
    assert bars.distances_wrong_by(area, *SIZE_PX, set_up(**parts)) == pytest.approx(
        wrong, abs=1e-9
    )


VIEW = {"vertical_field_of_view_deg": 40, "through": "own-lens"}


@pytest.mark.parametrize(
    ("feed", "parts", "command"),
    [
        ("0", {}, "assist calibrate lens 0 --lens 35mm --focus 4m --out feed.toml"),
        ("my clip.mp4", {"camera": {"sensor": "23.6x15.7"}, "feed": {"crop": 1.5}},
         "assist calibrate lens 'my clip.mp4' --lens 35mm --focus 4m --sensor 23.6x15.7 --crop 1.5 "
         "--rotate 90 --out feed.toml"),
        ("1", {"feed": VIEW}, "assist calibrate view 1 --vertical 40deg --out feed.toml"),
    ],
)  # fmt: skip
def test_the_way_to_mend_it_is_a_command_that_can_be_given(feed, parts, command):
    area = PictureArea.centred(540, 360, *SIZE_PX)
    line = bars.told(area, *SIZE_PX, feed, 90 if " " in feed else 0, set_up(**parts), False)
    assert f": {command}, then --feed-profile feed.toml" in line
    assert "\n" not in line
    assert shlex.split(command)[0] == "assist"
    parse(command)


@pytest.mark.parametrize("calibrated", [False, True])
def test_the_person_is_told_where_distances_suffer(calibrated):
    """A profile learned with the same bars makes up for them: then only the terminal says it."""
    person = PersonalProfile(learned_at=now(), scale=1.0, scale_sd=0.01) if calibrated else None
    notices, lines = Notices(), []
    film = Film(lambda index: boxed(scene(index, (540, 360))))
    source = bars.watched(film, "0", 0, set_up(), Known(person=person), notices, lines.append)
    while source.read() is not None:
        pass
    source.close()
    assert len(lines) == 1
    assert ("unless your profile" in lines[0]) == calibrated
    assert [n.trouble for n in notices.take()] == ([] if calibrated else [Trouble.BARS])
