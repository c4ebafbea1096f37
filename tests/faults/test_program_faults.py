"""Faults of everything else: sound, clock, window, signals, pose model, commands, listeners."""

import ast
import contextlib
import datetime
import os
import shlex
import signal
import subprocess
import sys
import threading
import time
import zipfile
from pathlib import Path

import cv2
import numpy as np
import pytest

import assist
from assist.base.errors import UserError
from assist.base.trouble import Notices, Trouble
from assist.base.words import Words, languages
from assist.camera.background import BackgroundTrigger
from assist.camera.command import CommandTrigger
from assist.camera.frame import FrameTrigger
from assist.camera.trigger import Fired, Trigger
from assist.feed import Silence
from assist.guidance.countdown import CountdownState, TimerOptions
from assist.guidance.guide import Action, withdrawn
from assist.guidance.wording import silences, troubles
from assist.output.listeners import Listeners
from assist.output.sound.listener import Tones
from assist.output.sound.output import NoSoundError
from assist.output.speech.engines import NoSpeechError
from assist.output.speech.listener import Speech
from assist.pose import bundle
from assist.run import demo, live, taking
from assist.run.live import LiveOptions, LiveRun
from assist.run.repeat.earlier import Earlier
from assist.run.repeat.guide import RepeatGuide
from assist.session import folder as sessions
from assist.session.folder import Session, read_record
from tests.assist.footage import SET_UP, BlankSource, NoisyCamera, PlacedDetector
from tests.assist.telling import message_of
from tests.assist.test_session import attempt
from tests.faults.watching import HOLD, LIMIT_S, Watch, lasted

posix = pytest.mark.skipif(os.name == "nt", reason="signals and processes of POSIX")
PROGRAM = [sys.executable, "-c", "from assist.cli import main; main()"]
CLIP, CLIP_SET_UP = (demo.sample_folder() / name for name in (demo.CLIP, demo.SET_UP))
PICTURE = np.zeros((36, 64, 3), np.uint8)


def program(*arguments, **environment):
    return subprocess.run(
        [*PROGRAM, *map(str, arguments)], env={**os.environ, **environment},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def complaints(err):
    """What the program finds wrong; the pose network's library has a log of its own there."""
    said = [line for line in err.splitlines() if line.startswith(("assist:", "Traceback"))]
    return [line for line in said if "nobody in the picture gets guidance" not in line]


# -- every message -------------------------------------------------------------------------------


@pytest.mark.parametrize("language", languages())
def test_every_trouble_and_every_silence_has_words_for_eye_and_ear(language):
    say = Words(language)
    for codes, words in ((Trouble, troubles(say)), (Silence, silences(say))):
        assert set(words) == set(codes)
        for shown, spoken in words.values():
            assert shown
            assert spoken.endswith(".")


# -- sound and speech ----------------------------------------------------------------------------


class Loudspeaker:
    """Asks for samples on a thread of its own, as a sound card does, until it is unplugged."""

    alive = True

    def __init__(self):
        self._gone = threading.Event()
        self.samples = []

    def open(self, render, rate_hz):
        def run():
            while not self._gone.wait(0.02):
                self.samples.append(render(rate_hz // 50))

        threading.Thread(target=run, daemon=True).start()
        return self

    def unplug(self):
        self._gone.set()

    def close(self):
        time.sleep(30)  # a driver whose device has gone may never return


def test_sound_device_gone_is_seen_and_said_and_the_run_goes_on(capsys):
    """A driver that says so is in `tests/assist/test_sound.py`; this one only stops asking."""
    card, notices = Loudspeaker(), Notices()
    tones = Tones(
        SET_UP.focus_zone, notices.telling(Trouble.NO_SOUND, print), rate_hz=lambda: 8000,
        open_stream=card.open,
    )  # fmt: skip
    spoken = "No sound."
    watch = Watch(
        HOLD, lambda w: w.said(spoken, 1) < LIMIT_S, lasted(0.3, HOLD), at={1: card.unplug}
    )
    watch.run(NoisyCamera(), notices=notices, more=[tones])
    shown_s = [t for t, m, _ in watch.in_phase(1) if m.troubles == ("no sound",)]
    assert shown_s[0] < 2.0 + watch.slack_s
    assert watch.said(spoken, 1) < 3.0 + watch.slack_s
    assert capsys.readouterr().out.count("no sound: ") == 1
    assert np.concatenate(card.samples).any()


def test_no_sound_device_at_all_stays_on_the_screen():
    def none():
        raise NoSoundError("there is no output device")

    notices = Notices()
    tones = Tones(SET_UP.focus_zone, notices.telling(Trouble.NO_SOUND), rate_hz=none)
    heard = []

    class Ear(Tones):
        def __init__(self):
            pass

        def hear(self, message):
            heard.append(message)

    run = LiveRun(
        SET_UP, BlankSource(8.0), PlacedDetector(lambda _: 4.1), LiveOptions(window=False),
        listener=Listeners([tones, Ear()]), notices=notices,
    )  # fmt: skip
    run.run()
    assert heard[0].troubles == ("no sound",)
    assert (heard[-1].troubles, heard[-1].also[-1]) == ((), "no sound")


def test_trouble_is_heard_as_three_falling_notes_once():
    now = message_of(withdrawn())
    rendered = {}

    class Held:
        alive = True

        def close(self):
            pass

    def open_stream(render, rate_hz):
        rendered["render"] = render
        return Held()

    tones = Tones(SET_UP.focus_zone, print, 100, rate_hz=lambda: 8000, open_stream=open_stream)
    tones.hear(now)
    samples = np.concatenate([rendered["render"](400) for _ in range(40)])
    pitches = []
    for part in (samples[200:1200], samples[1480:2480], samples[2760:3700]):
        pitches.append(np.argmax(np.abs(np.fft.rfft(part, 8000))))
    assert pitches == pytest.approx([523, 415, 330], abs=12)
    assert not samples[5000:].any()
    tones.hear(now)
    assert not np.concatenate([rendered["render"](400) for _ in range(10)]).any()


def test_speech_that_fails_is_seen():
    def none():
        raise NoSpeechError("no voice")

    notices = Notices()
    speech = Speech(none, notices.telling(Trouble.NO_SPEECH))
    watch = Watch(lambda w: any("no speech" in m.troubles for _, m, _ in w.in_phase(0)))
    watch.run(NoisyCamera(), notices=notices, more=[speech])


def test_a_listener_with_a_bug_is_left_out_and_the_others_go_on():
    class Buggy:
        calls = 0

        def hear(self, message):
            self.calls += 1
            raise ZeroDivisionError("a bug")

        def close(self):
            pass

    notes, buggy = [], Buggy()
    watch = Watch(HOLD)
    with Listeners([buggy, watch], notes.append) as listeners:
        watch.run(NoisyCamera(), more=[])
        for _ in range(3):
            listeners.hear(watch.told[-1][2])
    assert buggy.calls == 1
    assert notes == ["Buggy failed and is left out: a bug"]


# -- parts of the run itself ----------------------------------------------------------------------


class Ear:
    """Keeps what was shown; `at(time_s)` is called with each moment."""

    def __init__(self, at=lambda time_s: None):
        self.shown, self._at = [], at

    def hear(self, message):
        self.shown.append(message)
        self._at(message.moment.frame.time_s)


def boom(*_):
    raise cv2.error("a bug")


@pytest.mark.parametrize("fails", ["comparing", "drawing"])
def test_a_guide_to_an_earlier_picture_that_fails_is_left_out_and_the_run_goes_on(
    fails, tmp_path, monkeypatch
):
    kept = Earlier(np.zeros((360, 640, 3), np.uint8), None)
    guide = RepeatGuide(kept, lambda *_: 500.0)
    if fails == "comparing":
        monkeypatch.setattr(guide, "_compare", boom)
    else:
        monkeypatch.setattr(guide.ghost, "over", boom)
    ear = Ear(lambda _: time.sleep(0.002))  # the comparison has a thread of its own
    outcome = LiveRun(
        SET_UP, BlankSource(9.0), PlacedDetector(lambda _: 4.1),
        LiveOptions(window=False, output=tmp_path / "out.mp4"), listener=ear, repeat=guide,
    ).run()  # fmt: skip
    assert outcome.pictures == 270
    [problem] = outcome.problems
    assert "the guide to the earlier picture failed" in problem
    told = "a part of the program failed"
    assert sum(m.troubles == (told,) for m in ear.shown) > 100
    assert ear.shown[-1].also[-1] == told
    assert cv2.VideoCapture(str(tmp_path / "out.mp4")).get(cv2.CAP_PROP_FRAME_COUNT) == 270


def test_a_screen_that_fails_is_taken_away_and_the_picture_is_taken_all_the_same(
    tmp_path, monkeypatch
):
    """No word may stay in a window: it would get old."""
    windows = []

    class Window:
        closed, size_px = False, (640, 360)

        def __init__(self, *_):
            self.away = False
            windows.append(self)

        def show(self, canvas):
            return ""

        def look(self):
            pass

        def close(self):
            self.away = True

    def at(time_s):
        if time_s > 0.5 and not struck:
            struck.append(time_s)
            monkeypatch.setattr(run._display, "hear", boom)

    struck, ear = [], Ear(at)
    monkeypatch.setattr(live, "PreviewWindow", Window)
    with Session(tmp_path / "kept", SET_UP) as session:
        run = LiveRun(
            SET_UP, BlankSource(3.0), PlacedDetector(lambda _: 4.1),
            LiveOptions(timer=TimerOptions(1.0), output=tmp_path / "out.mp4"),
            session=session, trigger=FrameTrigger(session.folder), listener=ear,
        )  # fmt: skip
        outcome = run.run()
    assert windows[0].away
    assert outcome.pictures == 90
    assert outcome.problems == ["the screen failed and is left out: a bug"]
    assert "a part of the program failed" in {trouble for m in ear.shown for trouble in m.troubles}
    [taken] = read_record(tmp_path / "kept")
    assert (taken.picture, taken.problem) == ("picture-0001.png", "")
    assert cv2.VideoCapture(str(tmp_path / "out.mp4")).get(cv2.CAP_PROP_FRAME_COUNT) >= 15


@pytest.mark.parametrize("error", [UserError("no window can be opened here"), MemoryError()])
def test_a_window_that_cannot_be_opened_leaves_no_feed_open(error, monkeypatch):
    def none(*_):
        raise error

    monkeypatch.setattr(live, "PreviewWindow", none)
    source = BlankSource(3.0)
    with pytest.raises(type(error)):
        LiveRun(SET_UP, source, PlacedDetector(lambda _: 4.1), LiveOptions()).run()
    assert source.closed


def test_an_interrupt_in_a_part_is_still_an_interrupt(tmp_path, monkeypatch):
    def interrupt(*_):
        raise KeyboardInterrupt

    run = LiveRun(
        SET_UP, BlankSource(3.0), PlacedDetector(lambda _: 4.1),
        LiveOptions(window=False, output=tmp_path / "out.mp4"),
    )  # fmt: skip
    monkeypatch.setattr(live.GuidanceScreen, "draw", interrupt)
    outcome = run.run()
    assert (outcome.pictures, outcome.problems) == (1, [])


# -- the clock on the wall -----------------------------------------------------------------------


def test_the_clock_set_back_changes_no_age_no_order_and_no_number(tmp_path, monkeypatch):
    hours = [0]
    real = time.time

    class Clock(datetime.datetime):
        @classmethod
        def now(cls, tz=None):
            return cls.fromtimestamp(real() - 3600 * hours[0], tz)

    monkeypatch.setattr(time, "time", lambda: real() - 3600 * hours[0])
    monkeypatch.setattr(sessions, "datetime", Clock)
    watch = Watch(
        HOLD,
        lambda w: len(read_record(tmp_path)) == 1,
        lambda w: len(read_record(tmp_path)) == 2,
        at={1: lambda: start(0), 2: lambda: start(1)},
    )

    def start(hours_back):
        hours[0] = hours_back
        watch.live.start_timer(time.monotonic())

    with Session(tmp_path, SET_UP) as session:
        watch.run(
            NoisyCamera(), session=session, trigger=FrameTrigger(tmp_path),
            timer=TimerOptions(0.5), timer_at_once=False,
        )  # fmt: skip
    one, two = read_record(tmp_path)
    assert two.taken_at < one.taken_at  # what the clock said is what is written
    assert (one.attempt, two.attempt) == (1, 2)
    assert two.feed_time_s > one.feed_time_s
    assert Action.NO_FEED not in watch.actions(2)
    with Session(tmp_path, SET_UP) as session:
        assert session.next_attempt == 3


def test_no_age_is_told_by_the_clock_on_the_wall():
    """Only what is written down as a date may ask for the time of day."""
    asked = set()
    root = Path(assist.__file__).parent
    for file in root.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                name = f"{getattr(node.func.value, 'id', '')}.{node.func.attr}"
                if name in ("time.time", "datetime.now", "datetime.utcnow", "date.today"):
                    asked.add(file.relative_to(root).as_posix())
    assert asked <= {"session/folder.py", "setup/personal_profile.py"}


# -- the window ----------------------------------------------------------------------------------


def test_a_window_that_is_closed_while_the_picture_is_being_taken_loses_nothing(
    tmp_path, monkeypatch
):
    """With a window that only counts; a real one is closed in `tests/assist/test_window.py`."""

    class Window:
        closed = False
        size_px = (640, 360)

        def __init__(self, *_):
            pass

        def show(self, canvas):
            Window.closed = Slow.fired.is_set()
            return ""

        def look(self):
            pass

        def close(self):
            pass

    class Slow(FrameTrigger):
        fired = threading.Event()

        def fire(self, picture, number):
            Slow.fired.set()
            time.sleep(0.5)
            return super().fire(picture, number)

    monkeypatch.setattr(live, "PreviewWindow", Window)
    with Session(tmp_path, SET_UP) as session:
        LiveRun(
            SET_UP, NoisyCamera(), PlacedDetector(lambda _: 4.1),
            LiveOptions(timer=TimerOptions(0.3)), session=session, trigger=Slow(tmp_path),
        ).run()  # fmt: skip
    [attempt] = read_record(tmp_path)
    assert (attempt.picture, attempt.problem) == ("picture-0001.png", "")
    assert (tmp_path / "picture-0001.png").is_file()


# -- signals -------------------------------------------------------------------------------------


@posix
def test_signals_end_a_run_with_record_and_video_whole(tmp_path):
    """The program itself on the shipped clip: interrupt, termination, a terminal that closes."""
    running = {}
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        folder = tmp_path / name
        folder.mkdir()
        running[name] = subprocess.Popen(
            [*PROGRAM, "live", CLIP, "--set-up", CLIP_SET_UP, "--no-window", "--real-time",
             "--no-sound", "--timer", "1s", "--session", folder / "kept",
             "--output", folder / "out.mp4"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
    deadline_s = time.monotonic() + 90
    for name, process in running.items():
        record = tmp_path / name / "kept" / "record.jsonl"
        while not record.exists() and process.poll() is None and time.monotonic() < deadline_s:
            time.sleep(0.05)
        process.send_signal(getattr(signal, name))
    for name, process in running.items():
        out, err = process.communicate(timeout=60)
        assert (process.returncode, complaints(err)) == (0, []), name
        assert "attempt 1" in out
        [attempt] = read_record(tmp_path / name / "kept")
        assert cv2.imread(str(tmp_path / name / "kept" / attempt.picture)) is not None
        video = cv2.VideoCapture(str(tmp_path / name / "out.mp4"))
        assert video.read()[0]
        assert video.get(cv2.CAP_PROP_FRAME_COUNT) >= 20
        assert not [p for p in (tmp_path / name).rglob("*") if ".part" in p.name]


@posix
def test_an_interrupt_in_the_middle_of_anything_cuts_no_line_short(tmp_path, request):
    """Signals in plenty while lines are written: each line of the record is whole."""
    struck = []

    def stop():
        struck.append(time.monotonic())

    from assist.base.signals import stopping

    # Whoever runs the tests in the background may have interrupts ignored.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    request.addfinalizer(lambda: signal.signal(signal.SIGINT, before))
    with Session(tmp_path, SET_UP) as session, stopping(stop, lambda: False):
        over = threading.Event()

        def storm():
            while not over.wait(0.002):
                os.kill(os.getpid(), signal.SIGINT)

        thread = threading.Thread(target=storm)
        thread.start()
        end_s, written = time.monotonic() + 60, 0
        # On a fast disk sixty lines may be written before the first signal comes.
        while written < 60 or (len(struck) < 5 and time.monotonic() < end_s):
            written += 1
            session.append(attempt(written))
        over.set()
        thread.join()
    assert len(struck) >= 5
    assert [a.attempt for a in read_record(tmp_path)] == list(range(1, written + 1))


@posix
def test_a_second_interrupt_does_not_wait_for_a_picture_under_way_but_records_it(tmp_path):
    sleeper = f"{shlex.quote(sys.executable)} -c 'import time; time.sleep(600)'"
    process = subprocess.Popen(
        [*PROGRAM, "live", CLIP, "--set-up", CLIP_SET_UP, "--no-window", "--real-time",
         "--no-sound", "--timer", "1s", "--session", tmp_path / "kept",
         "--on-fire", sleeper, "--on-fire-limit", "300s"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    if not children.exists():
        process.kill()
        pytest.skip("the system does not list child processes")

    def child():
        for task in Path(f"/proc/{process.pid}/task").iterdir():
            for pid in (task / "children").read_text().split():
                with contextlib.suppress(OSError):
                    # Any child has its parent's words, these among them, until it is started.
                    words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
                    if words[1:3] == [b"-c", b"import time; time.sleep(600)"]:
                        return int(pid)
        return None

    deadline_s = time.monotonic() + 90
    while (pid := child()) is None and time.monotonic() < deadline_s:
        time.sleep(0.05)
    assert pid is not None
    process.send_signal(signal.SIGINT)
    time.sleep(0.5)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, complaints(err)) == (0, [])
    [record] = read_record(tmp_path / "kept")
    assert "was ended with the run" in record.problem
    assert "problem: " in out
    stat = Path(f"/proc/{pid}/stat")  # gone, or dead and not yet reaped
    assert not stat.exists() or stat.read_text().rpartition(")")[2].split()[0] == "Z"


# -- the pose model ------------------------------------------------------------------------------


def damaged_bundle(path, kind):
    if kind == "cut short":
        path.write_bytes(bundle.load_bundle()[:100_000])
    elif kind == "rubbish inside":
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr(bundle.DETECTOR, b"not a network" * 100)
            archive.writestr(bundle.LANDMARKER, b"not a network" * 100)
    elif kind == "no zip":
        path.write_bytes(b"not a bundle")
    return path


@pytest.mark.parametrize("kind", ["missing", "cut short", "no zip"])
def test_pose_model_missing_or_cut_short_is_the_users_to_mend(kind, tmp_path):
    model = damaged_bundle(tmp_path / "pose.task", kind)
    with pytest.raises(UserError, match=r"pose model .*pose\.task"):
        bundle.load_bundle(model)


@pytest.mark.parametrize("kind", ["missing", "rubbish inside"])
def test_pose_model_missing_or_corrupt_is_one_line(kind, tmp_path):
    model = damaged_bundle(tmp_path / "pose.task", kind)
    done = program(
        "live", CLIP, "--set-up", CLIP_SET_UP, "--no-window", "--timer", "1s",
        "--session", tmp_path / "kept", "--pose-model", model,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith(f"assist: pose model {model}")
    assert done.stderr.count("\n") == 1


# -- what takes the picture ----------------------------------------------------------------------


@posix
def test_a_command_that_hangs_is_told_as_under_way_then_as_failed_and_is_ended(tmp_path):
    """See `tests/assist/test_trigger.py` for its children and its last words."""
    command = CommandTrigger((sys.executable, "-c", "import time; time.sleep(600)"), tmp_path, 1.5)
    spoken = f"{'The picture was not taken.'} {'It took too long.'}"
    watch = Watch(
        HOLD,
        lambda w: w.said(spoken, 1) < LIMIT_S,
        at={1: lambda: watch.live.start_timer(time.monotonic())},
    )

    with Session(tmp_path, SET_UP) as session:
        watch.run(
            NoisyCamera(), session=session, trigger=command, timer=TimerOptions(0.3),
            timer_at_once=False,
        )  # fmt: skip
    states = [c for *_, c in watch.in_phase(1) if c]
    assert any(c.pending for c in states)  # within the picture after zero
    assert not any(c.fired and not c.trouble for c in states)  # never "taken"
    assert "taking the picture took too long" in {
        t for _, m, _ in watch.in_phase(1) for t in m.troubles
    }
    [attempt] = read_record(tmp_path)
    assert "was ended after 1.5 s" in attempt.problem


@posix
def test_what_is_still_under_way_at_the_end_is_ended_and_recorded(tmp_path):
    command = CommandTrigger((sys.executable, "-c", "import time; time.sleep(600)"), tmp_path, 600)
    background = BackgroundTrigger(command)
    background.fire(PICTURE, 1, "one")
    background.fire(PICTURE, 2, "two")
    time.sleep(0.3)
    done = background.close(0.1)
    assert [d.ticket for d in done] == ["one", "two"]
    assert "ended with the run" in done[0].fired.problem
    assert all(d.fired.failed for d in done)


def test_a_trigger_that_never_returns_is_recorded_as_unknown(tmp_path, monkeypatch):
    monkeypatch.setattr(taking, "_TRIGGER_GETS_S", 0.2)
    never = threading.Event()

    class Hanging(Trigger):
        def fire(self, picture, attempt):
            never.wait(60)

        def close(self):
            pass

    watch = Watch(lambda w: any(c.pending for *_, c in w.in_phase(0) if c))
    with Session(tmp_path, SET_UP) as session:
        watch.run(NoisyCamera(), session=session, trigger=Hanging(), timer=TimerOptions(0.3))
    [attempt] = read_record(tmp_path)
    assert "not known" in attempt.problem
    never.set()


def test_a_camera_of_its_own_takes_its_picture_whatever_has_become_of_the_feed(tmp_path):
    fired = []

    class OnACable(Trigger):
        def fire(self, picture, attempt):
            fired.append(attempt)
            return Fired("tether", Path("picture-0001.jpg"))

        def close(self):
            pass

    watch = Watch(
        HOLD,
        lambda w: any(c.fired for *_, c in w.in_phase(1) if c),
        at={1: lambda: watch.live.start_timer(time.monotonic())},
    )
    frozen = NoisyCamera(lambda _, picture: np.zeros_like(picture) if watch.phase else picture)
    with Session(tmp_path, SET_UP) as session:
        watch.run(frozen, session=session, trigger=OnACable(), timer=TimerOptions(1.0),
                  timer_at_once=False)  # fmt: skip
    assert fired == [1]
    [attempt] = read_record(tmp_path)
    assert (attempt.problem, attempt.verdict) == ("", "no one in view")


def test_not_taken_stays_not_taken_until_the_timer_is_started_anew():
    failed = CountdownState(0.0, 0, True, trouble=True)
    pending = CountdownState(0.0, 0, False, pending=True)
    assert message_of(withdrawn(), countdown=failed).count == "NOT TAKEN"
    assert message_of(withdrawn(), countdown=pending).count == "TAKING"

    class Failing(Trigger):
        def fire(self, picture, attempt):
            return Fired("command", None, "it failed", trouble=Trouble.COMMAND)

        def close(self):
            pass

    states = []

    class Ear:
        def hear(self, message):
            states.append(message.countdown)

    LiveRun(
        SET_UP, BlankSource(12.0), PlacedDetector(lambda _: 4.1),
        LiveOptions(window=False, timer=TimerOptions(1.0)), trigger=Failing(), listener=Ear(),
    ).run()  # fmt: skip
    assert not any(c.fired and not c.trouble for c in states)
    assert states[-1].trouble


def test_a_feed_that_breaks_off_with_an_error_keeps_what_was_taken(tmp_path):
    class Breaking(BlankSource):
        def read(self):
            frame = super().read()
            if frame is not None and frame.time_s > 2.0:
                raise cv2.error("the decoder gave up")
            return frame

    with Session(tmp_path / "kept", SET_UP) as session, pytest.raises(cv2.error):
        LiveRun(
            SET_UP, Breaking(9.0), PlacedDetector(lambda _: 4.1),
            LiveOptions(window=False, timer=TimerOptions(1.0), output=tmp_path / "out.mp4"),
            session=session, trigger=FrameTrigger(session.folder),
        ).run()  # fmt: skip
    assert len(read_record(tmp_path / "kept")) == 1
    assert cv2.VideoCapture(str(tmp_path / "out.mp4")).get(cv2.CAP_PROP_FRAME_COUNT) > 40
