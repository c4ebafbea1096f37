"""The run itself: what it does with a raised hand. What goes wrong in it: test_faults."""

import pytest

from assist.countdown import TimerOptions
from assist.live import LiveOptions, LiveRun
from tests.assist.footage import SET_UP, BlankSource, PlacedDetector


def raised_hand(time_s, pose):
    if 1.0 <= time_s < 2.6:
        pose.image_px[13, 1] = pose.image_px[11, 1] - 40
        pose.image_px[15, 1] = pose.image_px[11, 1] - 110
    return pose


class WavingDetector(PlacedDetector):
    def detect(self, picture, time_s):
        return [raised_hand(time_s, pose) for pose in super().detect(picture, time_s)]


@pytest.mark.parametrize(("orders_by", "taken"), [("hand", 1), (None, 0)])
def test_a_raised_hand_starts_the_timer(orders_by, taken):
    options = LiveOptions(
        window=False, timer=TimerOptions(2.0), timer_at_once=False, orders_by=orders_by
    )
    run = LiveRun(SET_UP, BlankSource(6.0), WavingDetector(lambda _: 4.1), options)
    outcome = run.run()
    assert len(outcome.attempts) == taken
    if taken:
        assert outcome.attempts[0].feed_time_s == pytest.approx(4.0, abs=0.1)
