import pytest

from assist.guidance.countdown import TimerOptions
from assist.guidance.guide import Action
from assist.output.listeners import Listeners
from assist.run.live import LiveOptions, LiveRun
from tests.assist.footage import SET_UP, BlankSource, PlacedDetector


class Ear:
    def __init__(self, fails=False):
        self.heard = []
        self.closed = 0
        self._fails = fails

    def hear(self, message):
        self.heard.append(message)

    def close(self):
        self.closed += 1
        if self._fails:
            raise RuntimeError("the device does not let go")


def run(ear, seconds=2.0, place=lambda _: 4.1, **options):
    chosen = LiveOptions(window=False, **options)
    return LiveRun(SET_UP, BlankSource(seconds), PlacedDetector(place), chosen, listener=ear).run()


def test_every_picture_is_heard_with_its_own_guidance():
    ear = Ear()
    outcome = run(ear, place=lambda t: None if t < 0.5 else 4.1)
    assert outcome.pictures == len(ear.heard) == 60
    assert ear.heard[0].action is Action.NO_ONE
    assert ear.heard[-1].action is Action.HOLD
    assert ear.heard[-1].countdown is None


def test_the_picture_that_fires_is_heard_as_fired():
    ear = Ear()
    outcome = run(ear, timer=TimerOptions(1.0))
    fired = [message.moment for message in ear.heard if message.countdown.fired]
    kept = outcome.fired_at[0]
    assert fired[0].frame.time_s == kept.frame.time_s
    assert fired[0].guidance is kept.guidance
    assert kept.frame.picture.size == 0  # a burst of a hundred pictures at 4K would be 3 GB
    assert [m.countdown.shown for m in ear.heard][:2] == [1, 1]


def test_a_group_tells_all_and_closes_all_even_when_one_fails():
    one, other = Ear(), Ear(fails=True)
    with pytest.raises(RuntimeError), Listeners([one, other]) as group:
        run(group, seconds=0.1)
    assert len(one.heard) == len(other.heard) == 3
    assert one.closed == other.closed == 1
