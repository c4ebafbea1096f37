import math
import time

import cv2
import numpy as np
import pytest

from assist.feed import Frame, camera
from assist.feed.ageing import DelayLine, PictureClock
from assist.feed.delayed import DelayedSource
from assist.feed.h264_order import held_back
from assist.feed.opening import open_feed
from assist.guidance.at_zero import at_zero
from assist.guidance.guide import LEAD_S, USUAL_AGE_S, Action, Guide
from assist.guidance.verdict import Judge, Verdict
from tests.assist.footage import SET_UP

STEP_S = 0.04


def ages(clock, stamps_s, arrivals_s):
    """The age of each picture; a reader that is always there."""
    asked_s, told = arrivals_s[0] - STEP_S, []
    for stamp_s, arrived_s in zip(stamps_s, arrivals_s, strict=True):
        told.append(clock.age(min(asked_s, arrived_s), arrived_s, stamp_s))
        asked_s = arrived_s
    return told


def test_the_quickest_picture_is_the_measure_of_the_others():
    line = DelayLine()
    assert line.excess_s(0.0, 100.5) == 0.0
    assert line.excess_s(1.0, 101.2) == 0.0  # quicker still
    assert line.excess_s(2.0, 102.9) == pytest.approx(0.7, abs=0.01)
    assert line.excess_s(3.0, 103.3) == pytest.approx(0.1, abs=0.01)


@pytest.mark.parametrize("drift", [1e-3, -1e-3])
def test_clocks_that_go_apart_slowly_make_no_age(drift):
    line = DelayLine()
    told = [line.excess_s(n * STEP_S * (1 - drift), n * STEP_S) for n in range(60 * 60 * 25)]
    assert max(told) < 0.01


def test_a_backlog_that_grows_by_a_hundredth_is_seen():
    line = DelayLine()
    told = [line.excess_s(n * STEP_S * 0.99, n * STEP_S) for n in range(90 * 25)]
    assert told[-1] > 0.6


@pytest.mark.parametrize("jump_s", [-50.0, 3600.0])
def test_a_clock_that_is_set_changes_nothing(jump_s):
    line = DelayLine()
    for n in range(50):
        late_s = 0.3 if n > 25 else 0.0
        stamp_s = n * STEP_S + (jump_s if n > 35 else 0.0)
        told = line.excess_s(stamp_s, n * STEP_S + late_s)
        assert told == pytest.approx(late_s, abs=0.05), n


def test_what_was_put_by_at_the_opening_is_passed_over():
    stamps = np.arange(100) * STEP_S
    # Three seconds are there at the opening, 75 pictures, and take 5 ms each; then one by one.
    arrivals = 10.0 + np.where(np.arange(100) < 75, np.arange(100) * 0.005, stamps - 74 * STEP_S)
    arrivals = np.maximum.accumulate(np.maximum(arrivals, 10.0 + np.arange(100) * 0.005))
    told = ages(PictureClock(25.0), stamps, arrivals)
    assert all(age.put_by for age in told[:75])
    fresh = next(n for n, age in enumerate(told) if not age.put_by)
    assert arrivals[fresh] - 10.0 < 1.5
    assert not told[-1].put_by
    assert told[-1].age_s + told[-1].doubt_s < 0.05


def test_from_a_link_too_slow_from_the_start_nothing_is_believed():
    stamps = np.arange(200) * STEP_S
    told = ages(PictureClock(25.0), stamps, 10.0 + 2 * stamps)
    assert all(age.put_by or math.isinf(age.doubt_s) for age in told)
    assert not told[-1].put_by  # shown all the same


def test_a_device_that_stamps_by_this_machines_clock_is_believed_at_once():
    clock = PictureClock(30.0, device=True)
    assert clock.age(99.9, 100.0, 99.93).age_s == pytest.approx(0.07)
    assert clock.age(100.0, 100.1, 5.0).age_s == 0.0  # not by this clock


def test_made_up_stamps_of_a_device_are_not_believed_for_long():
    clock = PictureClock(30.0, device=True)
    arrivals = 1000.0 + np.arange(400) / 15.0  # the driver counts them as if they were 30 a second
    told = ages(clock, np.arange(400) / 30.0, arrivals)
    assert max(age.age_s for age in told) <= 2.0
    assert all(age.age_s + age.doubt_s == 0.0 for age in told[100:])


def test_a_stated_delay_is_taken_off_the_time_of_a_live_feed():
    class One:
        live, rate_hz, frames_expected = True, 25.0, None

        def read(self):
            return Frame(np.zeros((48, 64, 3), np.uint8), 10.0, 0, age_s=0.1)

    frame = DelayedSource(One(), 0.3).read()
    assert (frame.time_s, frame.age_s) == (pytest.approx(9.7), pytest.approx(0.4))
    assert frame.arrived_s == pytest.approx(10.1)


# As an encoder (x264) wrote them: by default, with two pictures held back; with one; with rates for
# a decoder's buffer; with colours; for no latency; in the baseline profile.
ORDERS = {
    "0000016764001eacd940a02ff961000003000100000300320f162d960000000168ebe3cb22c0": 2,
    "0000016764001eace40280bfe584000003000400000300c83c58b4480000000168ebe3cb22c0": 1,
    "0000016764001eacd940a02ff96100000300010000030032628000f424001e84a6c30078b16cb0"
    "0000000168ebe3cb22c0": 2,
    "0000016764001eacd940a02ff966a04040280000030008000003019078b16cb00000000168ebe3cb22c0": 2,
    "0000016764001eacb201405ff2c2000003000200000300651e2c5c900000000168ebc3cb22c0": 0,
    "0000016742c01ed900a02ff961000003000100000300320f162e480000000168cb83cb20": 0,
}


@pytest.mark.parametrize("configuration", ORDERS)
def test_whether_an_encoder_puts_pictures_in_another_order(configuration):
    content = bytes.fromhex(configuration)
    assert held_back(content) == ORDERS[configuration]
    unit = content.split(b"\x00\x00\x01")[1].rstrip(b"\x00")
    in_a_file = b"\x01\x64\x00\x1e\xff\xe1" + len(unit).to_bytes(2, "big") + unit
    assert held_back(in_a_file) == ORDERS[configuration]


def test_a_configuration_that_is_none_says_nothing():
    start = b"\x00\x00\x01"
    for content in (b"", start, b"\x01", start + b"\x67", start + b"\x67" + bytes(99)):
        assert held_back(content) is None


class Encoded:
    """What the video library makes of an H.264 stream whose encoder looks ahead."""

    def __init__(self, configuration):
        self._content = np.frombuffer(bytes.fromhex(configuration), np.uint8)[None]
        self._index = 0

    def get(self, what):
        return {
            cv2.CAP_PROP_FPS: 25.0,
            cv2.CAP_PROP_FOURCC: float(cv2.VideoWriter.fourcc(*"h264")),
            cv2.CAP_PROP_CODEC_EXTRADATA_INDEX: 1.0,
            cv2.CAP_PROP_POS_MSEC: 40.0 * self._index,
        }.get(what, 48.0)

    def retrieve(self, _, index):
        return index == 1, self._content

    def read(self):
        time.sleep(0.04)
        self._index += 1
        return True, np.full((48, 48, 3), self._index % 200, np.uint8)

    def release(self):
        pass


@pytest.mark.parametrize(("stated_s", "doubted"), [(None, True), (0.3, False), (0.0, False)])
def test_of_a_sender_that_looks_ahead_nothing_is_believed_until_its_delay_is_known(
    monkeypatch, stated_s, doubted
):
    ahead, *_, plain, _baseline = ORDERS
    for configuration in (ahead, plain):
        monkeypatch.setattr(camera, "open_capture", lambda *_, c=configuration: Encoded(c))
        source = open_feed("rtsp://192.0.2.1/live", delay_s=stated_s)
        frames = [source.read() for _ in range(5)]
        assert math.isinf(frames[-1].doubt_s) is (doubted and configuration == ahead)
        assert frames[-1].age_s == pytest.approx(stated_s or 0.0, abs=0.1)


# -- what follows from it --------------------------------------------------------------------------


def walking(z_m, speed_m_s):
    from assist.distance import TrackedDistance

    return TrackedDistance(0.0, z_m, 0.03, speed_m_s, 0.0)


def test_stop_comes_earlier_by_what_the_picture_is_older():
    zone = SET_UP.focus_zone
    guide, judge = Guide(zone), Judge(zone)

    def stopped_at():
        for z_m in np.arange(9.0, 3.0, -0.01):
            assessment = judge.judge(walking(z_m, -1.2))
            if guide.action(assessment) is Action.STOP:
                return z_m
        raise AssertionError

    usual = stopped_at()
    guide.picture_age_s = USUAL_AGE_S + 0.3
    assert stopped_at() - usual == pytest.approx(0.3 * 1.2, abs=0.04)
    guide.picture_age_s = 0.0
    assert stopped_at() == usual
    assert pytest.approx(0.7) == LEAD_S


def moment(z_m, speed_m_s):
    from assist.guidance.assistant import Moment

    zone = SET_UP.focus_zone
    assessment = Judge(zone).judge(walking(z_m, speed_m_s))
    guidance = Guide(zone).guide(assessment)
    frame = Frame(np.zeros((48, 64, 3), np.uint8), 10.0, 0)
    return Moment(frame, None, None, assessment, guidance, None)


def test_at_zero_they_are_where_they_have_walked_to_since():
    zone = SET_UP.focus_zone
    seen = moment(zone.far_m - 0.15, 1.0)
    assert seen.assessment.verdict is Verdict.IN_FOCUS
    there = at_zero(seen, zone, 10.4)
    assert there.assessment.distance.eyes_m == pytest.approx(zone.far_m + 0.25)
    assert there.assessment.verdict is Verdict.TOO_FAR
    assert at_zero(seen, zone, 10.0) is seen
    still = moment(zone.best_m if hasattr(zone, "best_m") else 4.0, 0.0)
    assert at_zero(still, zone, 10.4).assessment.verdict is still.assessment.verdict
