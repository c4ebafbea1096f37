"""Black bars in a feed without a profile: found in its first pictures, and told once."""

import shlex
import time

import cv2
import numpy as np
import pytest

from assist.feed import Frame, Unfit
from assist.feed.bars_watch import BarsWatch
from assist.feed.black_bars import PictureArea
from assist.feed.video_file import VideoFileSource
from assist.guidance.assistant import Known
from assist.guidance.guide import Unmeasured
from assist.guidance.verdict import Verdict
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import bars_told, demo, true_distances
from assist.run.live import LiveOptions, LiveRun
from assist.setup.personal_profile import PersonalProfile, now
from assist.setup.set_up import from_values, load
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


def never():
    raise AssertionError("the bars are there")


class Film:
    """The pictures that `picture(index)` makes, ten a second."""

    rate_hz = 10.0

    def __init__(self, picture, live=True, frames=80):
        self.live = live
        self.frames_expected = frames
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

    monkeypatch.setattr("assist.feed.bars_watch.brightest", counting)
    watch = BarsWatch(film, lambda *what: found.append(what), never, cuts=False)
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
    assert bars_told.distances_wrong_by(area, *SIZE_PX, set_up(**parts)) == pytest.approx(
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
    line = bars_told.told(area, *SIZE_PX, feed, 90 if " " in feed else 0, set_up(**parts), False)
    assert f"To have it from the start: {command}, then --feed-profile feed.toml" in line
    assert "\n" not in line
    assert shlex.split(command)[0] == "assist"
    parse(command)


def test_of_a_file_the_same_pictures_are_cut_however_fast_it_is_read():
    film = Film(lambda index: boxed(scene(index, (540, 360))), live=False)
    source = BarsWatch(film, lambda *_: None, never)
    widths = [source.read().picture.shape[1] for _ in range(80)]
    source.close()
    assert widths == [640] * 20 + [540] * 60  # five pictures half a second apart: found at 2.0 s


def unfit(film, **more):
    """Which pictures of the film are handed out as unfit to be measured in."""
    source = BarsWatch(film, lambda *_: None, lambda: None, **more)
    frames = [source.read() for _ in range(film.frames_expected)]
    source.close()
    return [index for index, frame in enumerate(frames) if frame.unfit is Unfit.BARS]


@pytest.mark.parametrize("size_px", [(540, 360), (640, 320), (480, 320)])
def test_nothing_is_measured_between_bars_until_they_are_cut(size_px):
    film = Film(lambda index: boxed(scene(index, size_px)), live=False)
    assert unfit(film) == list(range(20))


def test_a_feed_without_black_edges_is_not_held_up():
    assert unfit(Film(lambda index: scene(index, SIZE_PX), live=False)) == []

    def one_dark_side(index):
        picture = scene(index, SIZE_PX)
        picture[:, :80] = 0
        return picture

    assert unfit(Film(one_dark_side, live=False)) == []


def test_edges_lit_once_are_no_bars_and_a_dark_scene_is_waited_for_while_it_is_looked_at():
    def a_door_opens(index):
        lit = np.clip(np.abs(np.linspace(-3, 3, SIZE_PX[0]))[None, :, None], 1, 3) / -2 + 1.5
        return scene(index, SIZE_PX) if index == 3 else (scene(index, SIZE_PX) * lit).astype("u1")

    assert unfit(Film(a_door_opens, live=False)) == [0, 1, 2]

    def night(index):
        return np.random.default_rng(index).integers(0, 8, (360, 640, 3), np.uint8)

    assert unfit(Film(night, live=False)) == list(range(55))  # twelve looks, the last at 5.5 s


def signed(picture, colour=0, signs=9):
    """In the middle of a feed of one colour with signs in its bars: a third of them is covered."""
    feed = np.full((*SIZE_PX[::-1], 3), colour, np.uint8)
    for k in range(signs):
        y = round((k + 0.2) * SIZE_PX[1] / signs)
        feed[y : y + 24, 5:40], feed[y : y + 24, -40:-5] = 220, (60, 180, 240)
    height, width = picture.shape[:2]
    left, top = (SIZE_PX[0] - width) // 2, (SIZE_PX[1] - height) // 2
    feed[top : top + height, left : left + width] = picture
    return feed


@pytest.mark.parametrize("colour", [0, 30, 235, (150, 60, 20)])
def test_bars_full_of_signs_are_found_and_cut_and_nothing_measured_before(colour):
    film = Film(lambda index: signed(scene(index, (540, 360)), colour), live=False)
    found = []
    source = BarsWatch(film, lambda *what: found.append(what), never)
    frames = [source.read() for _ in range(80)]
    assert {frame.unfit for frame in frames[:20]} == {Unfit.BARS}
    assert {frame.unfit for frame in frames[20:]} == {None}
    [(area, *size_px)] = found
    assert size_px == [*SIZE_PX]
    assert abs(area.width_px - 540) <= 2
    assert frames[79].picture.shape[1] == area.width_px


def panelled(picture):
    """At the left of a feed with a grey panel of signs at the right, no bar at the left."""
    return np.roll(signed(picture, 70), -50, axis=1)


def test_bars_on_one_side_are_doubted_and_told_and_nothing_cut_until_they_are_gone():
    def mended(index):
        return panelled(scene(index, (540, 360))) if index < 60 else scene(index, SIZE_PX)

    found, doubted = [], []
    film = Film(mended, live=False, frames=160)
    source = BarsWatch(film, lambda *what: found.append(what), never, lambda *a: doubted.append(a))
    frames = [source.read() for _ in range(160)]
    unfit_now = [frame.unfit for frame in frames]
    assert unfit_now[:60] == [Unfit.BARS] * 20 + [Unfit.SIGNS] * 40
    assert set(unfit_now[90:]) == {None}
    assert {frame.picture.shape[1] for frame in frames} == {640}
    assert found == []
    assert [area.width_px for area, *_ in doubted] == [540]


def test_a_feed_that_gets_bars_in_the_middle_of_a_run_is_noticed_within_two_seconds():
    def display_on(index):
        return scene(index, SIZE_PX) if index < 45 else signed(scene(index, (540, 360)))

    film = Film(display_on, live=False, frames=120)
    source = BarsWatch(film, lambda *_: None, never)
    frames = [source.read() for _ in range(120)]
    assert all(frame.unfit is None for frame in frames[:45])
    assert frames[65].unfit is Unfit.BARS
    assert frames[119].picture.shape[1] in range(538, 543)


def test_where_bars_have_been_dark_edges_are_taken_for_bars_again():
    def changing(index):
        return scene(index, SIZE_PX) if 40 <= index < 80 else boxed(scene(index, (540, 360)))

    # Gone, it is noticed after half a second; back, they are found again at 12 s.
    assert unfit(Film(changing, live=False, frames=160)) == [*range(20), *range(80, 120)]


def test_where_bars_are_left_nothing_is_held_up():
    assert unfit(Film(lambda index: boxed(scene(index, (540, 360))), live=False), cuts=False) == []


def test_of_a_camera_they_are_cut_once_they_have_been_found_beside():
    lines, barred = [], boxed(scene(1, (540, 360)))
    film = Film(lambda _: barred, frames=10_000_000)
    source = bars_told.watched(film, "0", 0, set_up(), Known(), lines.append)
    assert source.read().picture.shape[1::-1] == SIZE_PX
    end_s = time.monotonic() + 30
    while source.read().picture.shape[1::-1] == SIZE_PX and time.monotonic() < end_s:
        film.given.clear()
    assert source.read().picture.shape[1::-1] == (540, 360)
    source.close()
    [line] = lines
    assert "they are cut off from now on" in line


def test_they_are_left_where_a_profile_may_have_been_learned_with_them():
    person = PersonalProfile(learned_at=now(), scale=1.0, scale_sd=0.01)
    lines = []
    film = Film(lambda index: boxed(scene(index, (540, 360))), live=False)
    source = bars_told.watched(film, "0", 0, set_up(), Known(person=person), lines.append)
    assert {source.read().picture.shape[1::-1] for _ in range(80)} == {SIZE_PX}
    source.close()
    [line] = lines
    assert "told 19% too long unless your profile" in line
    assert "cut off" not in line


def test_what_is_cut_is_the_picture_and_a_feed_of_another_size_is_left_whole():
    def changing(index):
        picture = boxed(scene(index, (540, 360)))
        return picture if index < 70 else picture[:180]

    film = Film(changing, live=False)
    source = BarsWatch(film, lambda *_: None, never)
    frames = [source.read() for _ in range(80)]
    assert np.array_equal(frames[69].picture, film.given[69].picture[:, 50:590])
    assert frames[79].picture.shape == (180, 640, 3)
    source.close()


def test_a_feed_that_fills_its_picture_is_not_cut_while_it_does():
    """As when a camera puts out its whole width for a time."""

    def changing(index):
        whole = 40 <= index < 80 or index == 30  # one spoilt picture changes nothing
        return scene(index, SIZE_PX) if whole else boxed(scene(index, (540, 360)))

    lines = []
    film = Film(changing, live=False, frames=160)
    source = bars_told.watched(film, "0", 0, set_up(), Known(), lines.append)
    widths = [source.read().picture.shape[1] for _ in range(160)]
    source.close()
    assert set(widths[20:45]) == {540}
    assert set(widths[45:120]) == {640}
    assert set(widths[120:]) == {540}  # looked at in fives: no bars in 75 to 95, but in 100 to 120
    assert ["are gone" in line for line in lines] == [False, True, False]


def test_signs_in_the_bars_do_not_end_the_cutting():
    def signed(index):
        picture = boxed(scene(index, (540, 360)))
        if index >= 30:
            picture[20:50, 5:35] = 220
        return picture

    film = Film(signed, live=False)
    source = BarsWatch(film, lambda *_: None, never)
    assert {source.read().picture.shape[1] for _ in range(80)} == {540, 640}
    assert source.read() is None
    source.close()
    assert film.closed


def test_a_live_run_tells_distances_right_once_the_bars_are_cut_off(tmp_path):
    """The shipped clip in the middle of a wider feed."""
    samples = demo.sample_folder()
    capture = cv2.VideoCapture(str(samples / demo.CLIP))
    width, height = int(capture.get(3)), int(capture.get(4))
    feed_width = round(height * 2.39) // 2 * 2
    side = (feed_width - width) // 2
    path = tmp_path / "barred.mp4"
    writer = cv2.VideoWriter(
        str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (width + 2 * side, height)
    )
    while (read := capture.read())[0]:
        writer.write(cv2.copyMakeBorder(read[1], 0, 0, side, side, cv2.BORDER_CONSTANT))
    writer.release()
    chosen, lines = load(samples / demo.SET_UP), []
    source = bars_told.watched(VideoFileSource(path), "0", 0, chosen, Known(), lines.append)
    told = []
    with MediaPipePoseDetector() as detector:
        options = LiveOptions(window=False, orders_by=None)
        LiveRun(chosen, source, detector, options, on_moment=told.append).run()
    source.close()
    assert "cut off" in lines[0]
    early = [m for m in told if m.frame.unfit is Unfit.BARS]
    assert {m.frame.picture.shape[1] for m in told} == {width, width + 2 * side}
    assert len(early) == sum(m.frame.picture.shape[1] > width for m in told) > 40
    assert {m.assessment.verdict for m in early} <= {Verdict.NOT_SURE, Verdict.NO_ONE}
    assert all(m.assessment.distance is None for m in early)
    seen = {m.guidance.unmeasured for m in early if m.pose is not None}
    assert Unmeasured.BARS in seen
    standing = [m for m in told if m.frame.time_s > 8.0]
    known = true_distances.load(samples / demo.TRUTH)
    errors = [
        m.assessment.distance.eyes_m / known.eyes_at(m.frame.time_s) - 1
        for m in standing
        if m.assessment.distance is not None
    ]
    assert len(errors) > 20
    assert abs(float(np.median(errors))) < 0.05
