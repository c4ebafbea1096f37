import pytest

from assist.guidance.countdown import Countdown, Readiness, TimerOptions, Turn

READY = Readiness(True, True, True)
BLURRED = Readiness(False, True, True)


def shots(countdown, until_s, readiness=lambda t: READY, step_s=0.1):
    """Times at which a picture was due, the feed giving ten pictures a second."""
    count = round(until_s / step_s)
    times = [index * step_s for index in range(count + 1)]
    return [pytest.approx(t) for t in times if countdown.update(t, readiness(t))]


def started(**options):
    countdown = Countdown(TimerOptions(**options))
    countdown.start(0.0)
    return countdown


def test_not_started_shows_nothing_and_is_never_due():
    countdown = Countdown(TimerOptions())
    assert countdown.at(5.0) is None
    assert not countdown.update(1e9, READY)


@pytest.mark.parametrize(
    ("now_s", "shown"), [(100.0, 10), (100.01, 10), (101.0, 9), (109.5, 1), (110.0, 0)]
)
def test_whole_seconds_shown(now_s, shown):
    countdown = Countdown(TimerOptions(10.0))
    countdown.start(100.0)
    assert countdown.at(now_s).shown == shown


def test_due_exactly_once():
    countdown = started(seconds=2.0)
    assert shots(countdown, 9.0) == [2.0]
    assert countdown.at(9.0).fired
    countdown.start(10.0)
    assert countdown.running
    assert countdown.update(12.0)


def test_fires_even_when_not_ready_unless_told_to_hold():
    assert shots(started(seconds=2.0), 9.0, lambda t: BLURRED) == [2.0]


def test_lag_keeps_step_with_the_cameras_own_timer():
    assert shots(started(seconds=10.0, lag_s=0.4), 20.0) == [10.4]
    assert shots(started(seconds=10.0, lag_s=-0.3), 20.0) == [9.7]


def test_paused_does_not_fire():
    countdown = started(seconds=2.0)
    countdown.pause()
    assert not countdown.update(5.0, READY)
    assert countdown.at(5.0).paused


def test_held_at_zero_until_ready():
    countdown = started(seconds=2.0, if_not_ready="hold")
    assert shots(countdown, 9.0, lambda t: READY if t > 4.05 else BLURRED) == [4.1]


def test_held_says_so_and_gives_up_at_the_limit():
    countdown = started(seconds=2.0, if_not_ready="hold", limit_s=5.0)
    assert shots(countdown, 6.0, lambda t: BLURRED) == []
    assert countdown.at(6.0).holding
    assert shots(countdown, 9.0, lambda t: BLURRED) == []
    assert countdown.at(9.0).gave_up
    assert not countdown.running


def test_waits_for_readiness_to_last():
    countdown = started(seconds=None, ready_for_s=1.0)
    wobbly = {2.0, 2.5, 3.0}

    def readiness(t):
        return BLURRED if t < 1.95 or any(abs(t - w) < 0.05 for w in wobbly) else READY

    assert shots(countdown, 9.0, readiness) == [4.1]


def test_waiting_has_a_limit():
    countdown = started(seconds=None, limit_s=5.0)
    assert shots(countdown, 9.0, lambda t: BLURRED) == []
    assert countdown.at(9.0).gave_up
    taking = started(seconds=None, limit_s=5.0, at_limit="take")
    assert shots(taking, 9.0, lambda t: BLURRED) == [5.0]


@pytest.mark.parametrize(
    ("at_limit", "turn"), [("take", Turn.TAKES_SOON), ("skip", Turn.STOPS_SOON)]
)
def test_what_comes_at_the_limit_is_told_five_seconds_before(at_limit, turn):
    countdown = started(seconds=None, limit_s=20.0, at_limit=at_limit)
    assert countdown.at(14.9).turns == ()
    assert countdown.at(15.1).turns == (turn,)
    held = started(seconds=2.0, if_not_ready="hold", limit_s=20.0, at_limit=at_limit)
    shots(held, 18.0, lambda t: BLURRED)
    assert held.at(16.9).turns == ()
    assert held.at(17.1).turns == (turn,)


def test_burst():
    assert shots(started(seconds=1.0, burst=3, burst_interval_s=0.5), 9.0) == [1.0, 1.5, 2.0]


def test_burst_on_a_slow_feed_does_not_pile_up():
    countdown = started(seconds=1.0, burst=3, burst_interval_s=0.1)
    assert shots(countdown, 9.0, step_s=1.0) == [1.0, 2.0, 3.0]


@pytest.mark.parametrize(
    ("now_s", "readiness", "warning"),
    [(6.0, BLURRED, False), (7.5, BLURRED, True), (7.5, READY, False), (10.5, BLURRED, False)],
)
def test_late_warning_when_out_of_focus(now_s, readiness, warning):
    countdown = started(seconds=10.0)
    countdown.update(now_s, readiness)
    assert countdown.at(now_s).warning is warning
