"""Speech: what is said when, and the engines. espeak-ng renders to a file where it is installed."""

import itertools
import math
import os
import shutil
import stat
import subprocess
import sys
import threading
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.io import wavfile

from assist.base.system import System
from assist.base.words import Words, languages
from assist.feed import Silence
from assist.guidance import wording
from assist.guidance.advice import OutOfZone, Sideways, TurnToCamera
from assist.guidance.countdown import Countdown, CountdownState, TimerOptions
from assist.guidance.guide import Action, Way
from assist.output.sound import level
from assist.output.speech import engines
from assist.output.speech.engines import NoSpeechError, ProgramEngine, find_engine
from assist.output.speech.listener import Speech
from assist.output.speech.talk import AGAIN_S, LEAST_GAP_S, Talk
from tests.assist.telling import guidance_of, message_of

FRAME_S = 1 / 30
ESPEAK = shutil.which("espeak-ng")
needs_espeak = pytest.mark.skipif(ESPEAK is None, reason="needs espeak-ng")


WAYS = {Action.FORWARD: Way.FORWARD, Action.BACK: Way.BACK, Action.NOT_SURE: Way.BACK}


def told_of(action, length_m=1.0, countdown=None, **words):
    """The message of that action, with so far to go."""
    silence = Silence.STOPPED if action is Action.NO_FEED else None
    found = guidance_of(action, length_m, way=WAYS.get(action), silence=silence)
    return message_of(found, countdown=countdown, **words)


def talk(seconds, told, sentence_s=1.2):
    """What is said over a run: [(time, utterance)], each taking `sentence_s` to say."""
    chooser, said, until_s = Talk(), [], -math.inf
    for n in range(round(seconds / FRAME_S)):
        now_s = n * FRAME_S
        utterance = chooser.next(now_s, told(now_s), now_s < until_s)
        if utterance is not None:
            said.append((now_s, utterance))
            until_s = now_s + sentence_s
    return said


def words(said):
    return [utterance.text for _, utterance in said]


# -- what is said when ----------------------------------------------------------------------------


def test_quiet_when_nothing_changes():
    assert words(talk(60, lambda _: told_of(Action.HOLD))) == ["Hold still. In focus."]
    assert words(talk(60, lambda _: told_of(Action.FORWARD))) == ["Forward, one metre."]


def test_a_walk_is_told_by_its_figure_every_few_seconds_and_then_hold():
    def told(t):
        if t > 9:
            return told_of(Action.HOLD)
        return told_of(Action.FORWARD, 4.5 - 0.5 * t)

    said = talk(12, told)
    assert words(said)[0] == "Forward, four and a half metres."
    assert words(said)[-1] == "Hold still. In focus."
    assert 9.0 <= said[-1][0] < 9.0 + LEAST_GAP_S
    for (a, _), (b, _) in itertools.pairwise(said[:-1]):
        assert b - a >= AGAIN_S


def test_hold_breaks_off_a_longer_sentence():
    said = talk(5, lambda t: told_of(Action.BACK if t < 1.6 else Action.HOLD), sentence_s=3.0)
    assert [u.interrupts for _, u in said] == [False, True]
    assert said[1][0] == pytest.approx(1.6, abs=0.05)


def test_a_flicker_of_doubt_is_not_worth_a_word():
    def told(t):
        return told_of(Action.NOT_SURE if 3.0 <= t % 4.0 < 3.8 else Action.HOLD)

    assert words(talk(20, told)) == ["Hold still. In focus."]


def test_to_go_back_is_never_said_without_the_warning_first():
    for text in words(talk(8, lambda t: told_of(Action.BACK if t < 4 else Action.NOT_SURE))):
        assert "Look behind you. Back" in text


@given(
    st.lists(st.tuples(st.sampled_from(list(Action)), st.integers(1, 60)), min_size=1, max_size=30),
    st.floats(0.2, 4.0),
)
@settings(max_examples=150, deadline=None)
def test_no_two_instructions_within_a_second_and_none_out_of_date(stretches, sentence_s):
    actions = [action for action, frames in stretches for _ in range(frames)]
    seconds = len(actions) * FRAME_S
    said = talk(seconds, lambda t: told_of(actions[round(t / FRAME_S)]), sentence_s)
    for (a, _), (b, later) in itertools.pairwise(said):
        assert b - a >= LEAST_GAP_S - 1e-9 or later.text == "Stop."
    for t, utterance in said:
        assert utterance.text == told_of(actions[round(t / FRAME_S)]).spoken


def counting(action_at, total_s=12.0, begins_s=3.0):
    def told(t):
        left = max(0.0, total_s - max(0.0, t - begins_s))
        state = CountdownState(left, math.ceil(left), left == 0.0) if t >= begins_s else None
        return told_of(action_at(t), countdown=state)

    return told


def test_the_countdown_is_said_in_time_and_taken_at_its_end():
    said = talk(18, counting(lambda _: Action.HOLD), sentence_s=0.4)
    assert words(said) == ["Hold still. In focus.", "10", "5", "3", "2", "1", "Taken."]
    begins = {u.text: t for t, u in said}
    for figure in (10, 5, 3, 2, 1):
        assert begins[str(figure)] == pytest.approx(15.0 - figure, abs=0.05)
    assert begins["Taken."] == pytest.approx(15.0, abs=0.05)


def test_a_figure_that_cannot_be_in_time_is_left_out():
    said = talk(18, counting(lambda t: Action.HOLD if t < 11.5 else Action.BACK), sentence_s=3.0)
    assert not {"3", "2", "1"} & set(words(said))
    assert "Look behind you. Back, one metre." in words(said)


@pytest.mark.parametrize(
    ("turn", "text"),
    [("paused", "Paused."), ("warning", "Not in focus."), ("gave_up", "Stopped."),
     ("fired", "Taken.")],
)  # fmt: skip
def test_turns_of_the_countdown_are_said_once_when_they_come(turn, text):
    def told(t):
        state = {"fired": False, turn: t >= 4.0}
        state = CountdownState(20 - t, 20 - int(t), **state)
        return told_of(Action.FORWARD, countdown=state)

    said = talk(9, told, 0.4)
    assert [t for t, u in said if u.text == text] == [pytest.approx(4.0, abs=0.05)]


@pytest.mark.parametrize(("at_limit", "text"), [("take", "ready or not"), ("skip", "without a")])
def test_what_comes_at_the_limit_is_said_before_it(at_limit, text):
    waiting = Countdown(TimerOptions(None, limit_s=12.0, at_limit=at_limit))
    waiting.start(0.0)

    def told(t):
        waiting.update(t)
        return told_of(Action.FORWARD, countdown=waiting.at(t))

    said = [t for t, u in talk(11, told, 0.4) if text in u.text]
    assert said == [pytest.approx(7.0, abs=0.1)]


def test_stop_is_said_at_once_even_just_after_an_order_to_walk():
    said = talk(3, lambda t: told_of(Action.FORWARD if t < 0.4 else Action.STOP))
    assert words(said) == ["Forward, one metre.", "Stop."]
    assert said[1][0] == pytest.approx(0.4, abs=0.05)
    assert said[1][1].interrupts


def test_another_picture_is_told_as_taken_again():
    def told(t):
        left = max(0.0, 2.0 - t % 5.0)
        state = CountdownState(left, math.ceil(left), left == 0.0)
        return told_of(Action.HOLD, countdown=state)

    assert words(talk(10, told, 0.4)).count("Taken.") == 2


def advised(action, advice, countdown=None):
    return told_of(action, countdown=countdown, advice_spoken=advice)


def test_advice_comes_after_the_order_once_and_not_in_the_last_seconds():
    said = talk(30, lambda _: advised(Action.HOLD, "Half a metre to your left."))
    assert words(said) == ["Hold still. In focus.", "Half a metre to your left."]
    assert said[1][0] >= 2.0

    def counting_down(t):
        return advised(Action.HOLD, "x", CountdownState(3.5 - t, 4 - int(t), False))

    assert "x" not in words(talk(3.0, counting_down, 0.3))


def test_advice_that_flickers_or_changes_is_not_said_over_and_over():
    def flickering(t):
        return advised(Action.HOLD, "Left." if t % 1.0 < 0.5 else "")

    assert "Left." not in words(talk(20, flickering))
    changing = talk(30, lambda t: advised(Action.HOLD, f"{int(t * 3)} left."), 0.5)
    assert len(changing) <= 1 + 30 / 6


# -- the listener ---------------------------------------------------------------------------------


class FakeEngine:
    """Takes as long as it is told, and can be stopped."""

    def __init__(self, sentence_s=0.0, fails=False):
        self.said, self.stopped, self.closed = [], 0, 0
        self._sentence_s, self._fails = sentence_s, fails
        self._enough = threading.Event()

    def say(self, sentence):
        if self._fails:
            raise NoSpeechError("no voice")
        self.said.append(sentence)
        self._enough.clear()
        self._enough.wait(self._sentence_s)

    def stop(self):
        self.stopped += 1
        self._enough.set()

    def close(self):
        self.closed += 1
        self._enough.set()


def wait_until(condition, seconds=3.0):
    end_s = time.monotonic() + seconds
    while not condition() and time.monotonic() < end_s:
        time.sleep(0.005)
    assert condition()


def test_an_old_sentence_gives_way_and_the_tones_know_when_speech_is_on():
    engine, clock = FakeEngine(sentence_s=30.0), {"s": 0.0}
    speech = Speech(lambda: engine, print, lambda: clock["s"])
    assert not speech.speaking
    for clock["s"] in (0.0, 0.3):
        speech.hear(told_of(Action.BACK))
    wait_until(lambda: engine.said)
    assert speech.speaking
    clock["s"] = 1.5
    speech.hear(told_of(Action.HOLD))
    wait_until(lambda: len(engine.said) == 2)
    assert engine.said[1] == "Hold still. In focus."
    speech.close()
    speech.close()
    assert engine.closed >= 1
    assert not speech.speaking


def test_hearing_never_waits_for_the_engine():
    def slow():
        time.sleep(0.5)
        return FakeEngine()

    speech = Speech(slow, print)
    began_s = time.monotonic()
    for _ in range(20):
        speech.hear(told_of(Action.HOLD))
    assert time.monotonic() - began_s < 0.1
    speech.close()


@pytest.mark.parametrize("where", ["at the start", "at the first word"])
def test_a_missing_engine_is_noted_once_and_the_run_goes_on(where):
    def none():
        if where == "at the start":
            raise NoSpeechError("no voice")
        return FakeEngine(fails=True)

    notes = []
    speech = Speech(none, notes.append)
    for _ in range(3):
        speech.hear(told_of(Action.HOLD))
    wait_until(lambda: notes)
    speech.hear(told_of(Action.HOLD))
    speech.close()
    assert notes == ["no speech: no voice; the run goes on without"]


# -- engines --------------------------------------------------------------------------------------


def has(*names):
    return lambda name: f"/usr/bin/{name}" if name in names else None


def test_a_sentence_is_one_argument_whatever_is_in_it():
    evil = '-x; rm "$(pwd)" `id`'
    for command in (
        engines.espeak_command("espeak-ng", "de", 70),
        engines.spd_say_command("spd-say", "de", 70),
    ):
        arguments = command(evil)
        assert arguments[-2:] == ["--", evil]
        assert "de" in arguments
    assert engines.mac_command("say", "Anna", 70)(evil)[-1].endswith(evil)
    assert evil not in " ".join(engines.windows_command("powershell", "de", 70)(evil))


def test_which_engine():
    def program(kind, *names):
        return find_engine("en", 50, System(kind, which=has(*names)))._command("x")[0]

    assert program("linux", "spd-say", "espeak-ng") == "/usr/bin/espeak-ng"
    assert program("linux", "spd-say") == "/usr/bin/spd-say"
    assert program("windows", "powershell") == "/usr/bin/powershell"
    with pytest.raises(NoSpeechError, match="espeak-ng"):
        program("linux")


def test_a_voice_of_the_language_is_found_in_the_list_of_voices():
    listing = (
        "Alex                en_US    # Most people recognize me by my voice.\n"
        "Two Words           de_DE    # Hallo, ich bin eine Stimme.\n"
    )
    assert engines.mac_voice(listing, "de") == "Two Words"
    assert engines.mac_voice(listing, "es") == ""


posix = pytest.mark.skipif(os.name != "posix", reason="uses a shell script")


def program(tmp_path, script):
    path = tmp_path / "voice"
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return str(path)


@posix
def test_a_program_is_run_with_the_sentence_and_fed_it_where_asked(tmp_path):
    out = tmp_path / "out"
    voice = program(tmp_path, f'printf "%s|" "$@" > {out}; cat >> {out}')
    ProgramEngine(lambda s: [voice, "--", s]).say("Zurück, $HOME")
    assert out.read_text(encoding="utf-8") == "--|Zurück, $HOME|"
    ProgramEngine(lambda _: [voice], feed=True).say("Zurück")
    assert out.read_text(encoding="utf-8") == "|Zurück\n"


@posix
@pytest.mark.parametrize(
    ("script", "why"),
    [
        ("echo no voice >&2; exit 3", "no voice"),
        ("exit 3", "exit code 3"),
        ("echo 'error: No such file or directory' >&2", "No such file"),
        ("exec sleep 9", "hangs"),
    ],
)
def test_a_program_that_fails_or_hangs_is_no_engine(tmp_path, script, why):
    voice = program(tmp_path, script)
    with pytest.raises(NoSpeechError, match=why):
        ProgramEngine(lambda _: [voice], longest_s=0.5).say("x")


def test_a_program_that_is_not_there(tmp_path):
    with pytest.raises(NoSpeechError, match="does not run"):
        ProgramEngine(lambda _: [str(tmp_path / "nothing")]).say("x")


@posix
def test_stopping_ends_the_sentence_and_is_no_failure(tmp_path):
    engine = ProgramEngine(
        lambda _: [sys.executable, "-c", "import time; time.sleep(30)"], longest_s=20
    )
    thread = threading.Thread(target=engine.say, args=("x",))
    began_s = time.monotonic()
    thread.start()
    wait_until(lambda: engine._running is not None)
    engine.stop()
    thread.join(5)
    assert not thread.is_alive()
    assert time.monotonic() - began_s < 5


def spoken_sentences(language):
    """(sentence, whether it may be a long one): all that may be said, with usual lengths."""
    say, length = Words(language), Words(language).spoken_length(1.5)
    for way, sentence in wording.moves_aloud(say).items():
        yield sentence.format(length=length), way is Way.ROUND
    for sentence in wording.doubtful_moves_aloud(say).values():
        yield sentence.format(length=length), True
    for action, sentence in wording.what_to_do_aloud(say).items():
        yield sentence, action in (Action.AGAIN, Action.REFRAME)
    for *_, sentence in (*wording.silences(say).values(), *wording.troubles(say).values()):
        yield sentence, False
    for *_, sentence in wording.to_be_measured(say).values():
        yield sentence, False
    for sentence in wording.turns_aloud(say).values():
        yield sentence, False
    yield "10", False
    for advice in (
        Sideways(1.5, to_own_left=True), Sideways(1.5, to_own_left=False), TurnToCamera(),
        OutOfZone("hand", 1.5, too_near=True), OutOfZone("hand", 1.5, too_near=False),
    ):  # fmt: skip
        found = guidance_of(Action.HOLD, 0.0, advice=(advice,))
        yield message_of(found, language=language).advice_spoken, False
    reframe = guidance_of(Action.REFRAME, 0.0, advice=(Sideways(1.5, to_own_left=True),))
    yield message_of(reframe, language=language).spoken, True
    on_the_mark = guidance_of(Action.NOT_SURE, 0.0)
    yield message_of(on_the_mark, language=language).spoken, True


@needs_espeak
@pytest.mark.parametrize("language", languages())
def test_every_sentence_is_short_and_under_the_cap(tmp_path, language):
    """Rendered by espeak-ng itself, with the arguments that the program uses, into a file."""
    out = tmp_path / "said.wav"
    command = engines.espeak_command(ESPEAK, language, 100)
    loudest = 0.0
    for sentence, long in spoken_sentences(language):
        arguments = command(sentence)
        subprocess.run([*arguments[:-2], "-w", out, *arguments[-2:]], check=True)
        rate_hz, samples = wavfile.read(out)
        loudest = max(loudest, np.abs(samples.astype(float)).max() / 32768)
        assert len(samples) / rate_hz < (5.0 if long else 3.5), sentence
        assert len(samples) > 0.1 * rate_hz, sentence
    assert 20 * math.log10(loudest) <= level.CAP_DBFS
    assert 20 * math.log10(loudest) > level.CAP_DBFS - 4


@needs_espeak
def test_halving_the_volume_takes_12_db_off_speech_as_off_the_tones(tmp_path):
    peaks = []
    for volume in (100, 50):
        arguments = engines.espeak_command(ESPEAK, "en", volume)("Hold still. In focus.")
        subprocess.run([*arguments[:-2], "-w", tmp_path / "x.wav", *arguments[-2:]], check=True)
        peaks.append(np.abs(wavfile.read(tmp_path / "x.wav")[1].astype(float)).max())
    assert 20 * math.log10(peaks[0] / peaks[1]) == pytest.approx(
        12.04, abs=1.5
    )  # it counts in whole steps
