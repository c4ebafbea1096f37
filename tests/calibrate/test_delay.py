"""The clock for a camera: drawn, spoiled as a camera spoils it, and read again."""

import time

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from assist.base.errors import UserError
from assist.calibrate import delay
from assist.calibrate.moving_clock import PERIOD_S, SIZE_PX, ClockReader, MovingClock, behind_s
from assist.feed import Frame
from assist.setup import feed_profile
from assist.setup.feed_geometry import FeedGeometry
from tests.assist.footage import SET_UP

CLOCK = MovingClock()
WIDTH, HEIGHT = SIZE_PX


def aslant(picture):
    corners = np.float32([[0, 0], [WIDTH, 0], [WIDTH, HEIGHT], [0, HEIGHT]])
    seen = np.float32([[200, 120], [1000, 60], [950, 640], [260, 560]])
    matrix = cv2.getPerspectiveTransform(corners, seen)
    return cv2.warpPerspective(picture, matrix, SIZE_PX, borderValue=(60, 70, 80))


def far_off(picture, share=0.3):
    room = np.full((HEIGHT, WIDTH, 3), 80, np.uint8)
    small = cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    room[200 : 200 + small.shape[0], 400 : 400 + small.shape[1]] = small
    return room


def noisy(picture):
    noise = np.random.default_rng(1).normal(0, 15, picture.shape)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)


SPOILED = {
    "as it is": lambda p: p,
    "in a mirror": lambda p: np.ascontiguousarray(p[:, ::-1]),
    "aslant": aslant,
    "far off": far_off,
    "out of focus": lambda p: cv2.GaussianBlur(far_off(p), (0, 0), 2),
    "noisy": lambda p: noisy(far_off(p)),
    "dark": lambda p: (255 * (far_off(p) / 255.0) ** 2.2 * 0.5).astype(np.uint8),
    "upright": lambda p: np.rot90(p).copy(),
    "compressed": lambda p: cv2.imdecode(
        cv2.imencode(".jpg", far_off(p), [cv2.IMWRITE_JPEG_QUALITY, 30])[1], cv2.IMREAD_COLOR
    ),
}


@pytest.mark.parametrize("how", SPOILED)
def test_it_is_read_to_some_milliseconds_however_it_is_seen(how):
    reader = ClockReader()
    for time_s in np.random.default_rng(2).uniform(0, PERIOD_S, 12):
        read_s = reader.read(SPOILED[how](CLOCK.at(time_s)))
        assert read_s is not None
        assert abs((read_s - time_s + 12) % PERIOD_S - 12) < 0.008


def test_a_moving_hand_is_read_as_the_middle_of_the_exposure():
    exposed = [CLOCK.at(5.0 + n / 300).astype(float) for n in range(11)]
    read_s = ClockReader().read(np.mean(exposed, axis=0).astype(np.uint8))
    assert read_s == pytest.approx(5.0 + 5 / 300, abs=0.004)


def test_what_is_no_clock_is_not_read():
    reader = ClockReader()
    assert reader.read(np.zeros((HEIGHT, WIDTH, 3), np.uint8)) is None
    assert reader.read(np.random.default_rng(3).integers(0, 255, (360, 640, 3), np.uint8)) is None
    covered = CLOCK.at(3.0)
    cv2.circle(covered, (390, 360), 255, (128, 128, 128), -1)
    assert reader.read(covered) is None


def test_nothing_flashes():
    """No point goes from dark to bright and back more than three times in any second."""
    over_a_second = np.stack([CLOCK.at(n / 30)[::8, ::8, 0] for n in range(31)]) > 127
    changes = np.count_nonzero(np.diff(over_a_second, axis=0), axis=0)
    # At the rim of a disc single points waver as edges are smoothed; a flash needs a large area.
    assert np.mean(changes > 2) < 0.005
    assert 0.2 < np.mean(changes > 0) < 0.8


@pytest.mark.parametrize("late_s", [0.0, 0.2, 1.9, 15.0])
def test_a_delay_is_told_apart_from_the_period(late_s):
    assert behind_s(23.5, 23.5 + late_s) == pytest.approx(late_s)
    assert behind_s((70.0 - late_s) % PERIOD_S, 70.0) == pytest.approx(late_s)


# -- with a feed -----------------------------------------------------------------------------------


class Seen:
    """A screen, and a camera before it whose pictures come so much later."""

    live, rate_hz, frames_expected = True, 25.0, None

    def __init__(self, late_s, spoil=far_off, jitter_s=0.0):
        self._late_s, self._spoil, self._jitter_s = late_s, spoil, jitter_s
        self._shown, self._index = [], 0
        self._chance = np.random.default_rng(4)
        self.closed = False

    def show(self, canvas):
        self._shown.append((time.monotonic(), canvas))
        return ""

    def read(self):
        time.sleep(0.04)
        arrived_s = time.monotonic()
        due_s = arrived_s - self._late_s - self._jitter_s * self._chance.uniform()
        there = [canvas for shown_s, canvas in list(self._shown) if shown_s <= due_s]
        picture = there[-1] if there else np.zeros((HEIGHT, WIDTH, 3), np.uint8)
        self._index += 1
        spoiled = self._spoil(picture)
        spoiled[0, 0] = self._index % 200, self._index // 200, 0  # no two are equal
        return Frame(spoiled, arrived_s, self._index)

    def close(self):
        pass


def learned(monkeypatch, seen, **more):
    monkeypatch.setattr("assist.feed.open_source", lambda *_: seen)
    return delay.learn_delay("0", **{"seconds": 3.0, "patience_s": 20.0, "window": seen, **more})


@pytest.mark.parametrize("late_s", [0.12, 1.9])
def test_the_delay_of_a_feed_is_measured(monkeypatch, late_s):
    found = learned(monkeypatch, Seen(late_s))
    assert found.delay_s == pytest.approx(late_s, abs=0.06)
    assert found.used >= delay.LEAST_READINGS


def test_an_unsteady_delay_is_called_so(monkeypatch):
    found = learned(monkeypatch, Seen(0.1, jitter_s=0.6))
    assert found.varies
    assert found.spread_s == pytest.approx(0.27, abs=0.08)


def test_a_camera_that_does_not_see_the_clock_is_told_where_to_look(monkeypatch):
    with pytest.raises(UserError, match="four corner marks"):
        learned(monkeypatch, Seen(0.1, spoil=np.zeros_like), patience_s=1.0)


def test_it_goes_into_the_feeds_profile_and_is_used_from_there(monkeypatch, tmp_path):
    from assist.cli.calibrate import app
    from assist.feed.opening import open_feed

    path = tmp_path / "webcam.toml"
    seen_by = FeedGeometry.of(SET_UP).camera(640, 360)
    feed_profile.save(feed_profile.FeedProfile.of_camera(seen_by, "lens", 0.02), path)
    made = delay.LearnedDelay(0.21, 0.03, 60, 70)
    monkeypatch.setattr(delay, "learn_delay", lambda *_, **__: made)
    monkeypatch.setattr("assist.cli.calibrate_delay.display.problem", lambda _: "")
    result = CliRunner().invoke(app, ["delay", "0", "--feed-profile", str(path)])
    assert result.exit_code == 0, result.output
    kept = feed_profile.load(path)
    assert (kept.delay_s, kept.delay_spread_s) == (0.21, 0.03)
    assert kept.fx_px == seen_by.fx_px
    monkeypatch.setattr("assist.feed.open_source", lambda *_: Seen(0.0))
    assert open_feed("0", 0, kept).read().age_s == pytest.approx(0.21)
    assert open_feed("0", 0, kept, delay_s=0.0).read().age_s == 0.0
