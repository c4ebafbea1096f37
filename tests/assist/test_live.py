"""The run itself: what it does with a raised hand. What goes wrong in it: test_faults."""

from pathlib import Path

import numpy as np
import pytest

from assist.base.trouble import Notices
from assist.camera.frame import FrameTrigger
from assist.camera.self_timer import SelfTimerTrigger
from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.guidance.countdown import CountdownState, TimerOptions
from assist.guidance.guide import withdrawn
from assist.output.listeners import Listener
from assist.output.screen.screen import GuidanceScreen
from assist.run.live import LiveOptions, LiveRun
from assist.run.taking import PictureTaking, Taken
from tests.assist.footage import SET_UP, BlankSource, PlacedDetector
from tests.assist.telling import message_of

BLACK = np.zeros((360, 640, 3), np.uint8)


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


class Ear(Listener):
    """Hears what the timer is told as, second by second."""

    def __init__(self):
        self.words = []

    def hear(self, message):
        countdown = message.countdown
        word = None if countdown is None else countdown.word
        self.words.append((message.moment.frame.time_s, word))


@pytest.mark.parametrize(("kind", "word", "for_s"), [("frame", "taken", 8.0), ("none", "now", 5.0)])
def test_taken_is_said_of_what_is_known_to_be_and_not_for_ever(tmp_path, kind, word, for_s):
    ear = Ear()
    trigger = FrameTrigger(tmp_path) if kind == "frame" else SelfTimerTrigger()
    options = LiveOptions(window=False, timer=TimerOptions(1.0))
    detector = PlacedDetector(lambda _: 4.1)
    LiveRun(SET_UP, BlankSource(12.0), detector, options, trigger=trigger, listener=ear).run()
    told = [time_s for time_s, said in ear.words if said == word]
    assert told[0] == pytest.approx(1.0, abs=0.1)
    assert told[-1] == pytest.approx(1.0 + for_s, abs=0.1)
    assert ear.words[-1][1] is None


def test_the_timer_never_runs_backwards_and_what_was_told_is_not_told_again():
    """Pictures that take long to look at come after newer news without any."""

    class Timer(Listener):
        def __init__(self):
            self.told = []

        def hear(self, message):
            self.told.append(message.countdown)

    timer, detector = Timer(), PlacedDetector(lambda _: 4.1)
    options = LiveOptions(window=False, timer=TimerOptions(1.0))
    run = LiveRun(
        SET_UP, BlankSource(1.0), detector, options, trigger=SelfTimerTrigger(), listener=timer
    )
    seer = Assistant(SET_UP, detector)
    run.start_timer(0.0)
    for tenths in range(2, 70, 2):
        now_s = tenths / 10
        frame = Frame(BLACK, now_s - 0.3, tenths)
        moment = seer.see(frame)
        run._serve(moment, None, now_s)
        run._serve(moment, frame, now_s + 0.05)
    left = [state.seconds_left for state in timer.told if state is not None]
    assert left == sorted(left, reverse=True)
    over = timer.told.index(None)
    assert set(timer.told[over:]) == {None}
    fired = [state.fired for state in timer.told[:over]]
    assert fired == sorted(fired)


def test_pausing_does_not_pause_the_cameras_own_timer():
    taking = PictureTaking(SET_UP, "", None, SelfTimerTrigger(), Taken(), Notices(), waits=False)
    paused = CountdownState(5.0, 5, fired=False, paused=True)
    assert taking.told(paused, 0.0, 1.0).unheard
    screen = GuidanceScreen(SET_UP.focus_zone)
    words = [
        screen.told(message_of(withdrawn(), countdown=state))
        for state in (paused, taking.told(paused, 0.0, 1.0))
    ]
    assert "the camera's own timer runs on" not in words[0]
    assert "the camera's own timer runs on" in words[1]


@pytest.mark.parametrize(
    ("timer", "repeat", "keys"),
    [
        (TimerOptions(2.0), None, "T timer    M mirror    F full screen    Q quit"),
        (None, None, "M mirror    F full screen    Q quit"),
        (None, object(), "+ - earlier picture    M mirror    F full screen    Q quit"),
    ],
)
def test_only_keys_that_do_something_are_shown(monkeypatch, timer, repeat, keys):
    shown = []

    class Screen(GuidanceScreen):
        def __init__(self, zone, options, say):
            shown.append(options.keys)
            raise KeyboardInterrupt  # that is all there is to see

    monkeypatch.setattr("assist.run.live.GuidanceScreen", Screen)
    detector = PlacedDetector(lambda _: 4.1)
    for window in (True, False):
        options = LiveOptions(window=window, timer=timer, output=Path("a.mp4"))
        run = LiveRun(SET_UP, BlankSource(1.0), detector, options, repeat=repeat)
        with pytest.raises(KeyboardInterrupt):
            run.run()
    assert shown == [keys, ""]
