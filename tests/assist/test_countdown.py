import pytest

from assist.countdown import Countdown


def test_not_started_shows_nothing_and_is_never_due():
    countdown = Countdown(10.0)
    assert countdown.at(5.0) is None
    assert not countdown.due(1e9)


@pytest.mark.parametrize(
    ("now_s", "shown"), [(100.0, 10), (100.01, 10), (101.0, 9), (109.5, 1), (110.0, 0)]
)
def test_whole_seconds_shown(now_s, shown):
    countdown = Countdown(10.0)
    countdown.start(100.0)
    assert countdown.at(now_s).shown == shown


def test_due_exactly_once():
    countdown = Countdown(2.0)
    countdown.start(0.0)
    assert [countdown.due(t) for t in (1.0, 1.99, 2.01, 2.02, 9.0)] == [
        False,
        False,
        True,
        False,
        False,
    ]
    assert countdown.at(9.0).fired
    countdown.start(10.0)
    assert countdown.running
    assert countdown.due(12.0)


def test_stopped_does_not_fire():
    countdown = Countdown(2.0)
    countdown.start(0.0)
    countdown.stop()
    assert not countdown.due(5.0)
