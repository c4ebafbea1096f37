"""Triggers: what each does with a picture, and what it says when something goes wrong."""

import os
import subprocess
import sys
import textwrap
import threading
import time
import types
from pathlib import Path

import numpy as np
import pytest

from assist.base.errors import UserError
from assist.base.trouble import Trouble
from assist.camera.background import BackgroundTrigger
from assist.camera.command import CommandTrigger, split
from assist.camera.frame import FrameTrigger
from assist.camera.self_timer import SelfTimerTrigger
from assist.camera.tether import TetherTrigger
from assist.camera.trigger import Fired, Trigger
from assist.cli.options import trigger as trigger_options
from assist.guidance.countdown import TimerOptions
from assist.run.live import LiveOptions, LiveRun
from assist.session.folder import Session, read_record
from tests.assist.footage import SET_UP, BlankSource, NoisyCamera, PlacedDetector

PICTURE = np.zeros((4, 6, 3), np.uint8)


def python(code):
    return (sys.executable, "-c", textwrap.dedent(code))


def test_the_self_timer_is_only_recorded():
    assert SelfTimerTrigger().fire(PICTURE, 1) == Fired("none")


@pytest.mark.skipif(os.name == "nt", reason="POSIX quoting")
def test_a_line_becomes_arguments_and_no_shell_sees_them(tmp_path):
    marker = tmp_path / "made-by-a-shell"
    arguments = split(f"{sys.executable} -c 'import sys; print(sys.argv[1:])' '; touch {marker}'")
    assert arguments[-1] == f"; touch {marker}"
    assert CommandTrigger(arguments, tmp_path).fire(PICTURE, 1).exit_code == 0
    assert not marker.exists()


@pytest.mark.parametrize("text", ["", "   ", "'open"])
def test_a_line_that_is_no_command(text):
    with pytest.raises(UserError, match="--on-fire"):
        split(text)


def test_command_gets_number_and_folder_and_its_picture_is_found(tmp_path):
    code = """
        import pathlib, sys
        name = f"picture-{int(sys.argv[1]):04d}.jpg"
        pathlib.Path(sys.argv[2], name).write_bytes(b"x")
    """
    fired = CommandTrigger((*python(code), "{attempt}", "{folder}"), tmp_path).fire(PICTURE, 7)
    assert fired == Fired("command", tmp_path / "picture-0007.jpg", "", 0)


def test_exit_code_and_last_words_are_told(tmp_path):
    code = "import sys; print('warming up'); print('no card in the camera'); sys.exit(3)"
    fired = CommandTrigger(python(code), tmp_path).fire(PICTURE, 1)
    assert fired.exit_code == 3
    assert "code 3: no card in the camera" in fired.problem


def test_a_command_that_is_not_there(tmp_path):
    fired = CommandTrigger((str(tmp_path / "missing"),), tmp_path).fire(PICTURE, 1)
    assert "cannot be run" in fired.problem
    assert fired.exit_code is None


@pytest.mark.skipif(os.name == "nt", reason="process groups of POSIX")
def test_at_the_limit_the_command_and_its_children_are_ended(tmp_path):
    child = tmp_path / "child.pid"
    code = f"""
        import subprocess, sys, time
        p = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
        open({str(child)!r}, "w").write(str(p.pid))
        time.sleep(60)
    """
    began_s = time.monotonic()
    background = BackgroundTrigger(CommandTrigger(python(code), tmp_path, limit_s=1.5))
    background.fire(PICTURE, 1, "one")
    [done] = background.poll(20.0)
    assert time.monotonic() - began_s < 8
    assert "ended after 1.5 s" in done.fired.problem
    background.close(20.0)
    pid = int(child.read_text())
    for _ in range(50):
        try:
            # A zombie that init has yet to reap is dead.
            if Path(f"/proc/{pid}/stat").read_text().split()[2] == "Z":
                break
        except OSError:
            break
        time.sleep(0.1)
    else:
        pytest.fail("the command's child lives on")


class Slow(Trigger):
    def __init__(self, seconds, fired):
        self.seconds, self.result = seconds, fired

    def fire(self, picture, attempt):
        time.sleep(self.seconds)
        if isinstance(self.result, Exception):
            raise self.result
        return self.result

    def close(self):
        pass


class Waiting(Trigger):
    """Fires as often as it is let."""

    def __init__(self):
        self.let, self.begun, self.closed = threading.Semaphore(0), threading.Semaphore(0), False

    def fire(self, picture, attempt):
        self.begun.release()
        assert self.let.acquire(timeout=20)
        return Fired("waiting")

    def close(self):
        self.closed = True


def test_firing_in_the_background_returns_at_once_and_is_told_later():
    trigger = Waiting()
    background = BackgroundTrigger(trigger)
    # Were one of these to wait for the trigger, it would never be let.
    background.fire(PICTURE, 1, "one")
    background.fire(PICTURE, 2, "two")
    assert trigger.begun.acquire(timeout=20)
    assert background.poll() == []
    assert background.pending == 2
    trigger.let.release()
    assert [done.ticket for done in background.poll(20.0)] == ["one"]
    trigger.let.release()
    assert [done.ticket for done in background.close(20.0)] == ["two"]
    assert background.pending == 0
    assert trigger.closed


def test_a_command_ended_while_it_is_being_started_does_not_outlive_the_run(tmp_path, monkeypatch):
    trigger = CommandTrigger(python("import time; time.sleep(60)"), tmp_path)
    start = subprocess.Popen

    def started_too_late(*arguments, **options):
        trigger.abort(1, "with the run")
        return start(*arguments, **options)

    monkeypatch.setattr(subprocess, "Popen", started_too_late)
    began_s = time.monotonic()
    fired = trigger.fire(PICTURE, 1)
    assert time.monotonic() - began_s < 20
    assert "ended with the run" in fired.problem


def test_what_is_broken_off_too_late_or_too_early_ends_no_other_command(tmp_path):
    trigger = CommandTrigger(python("pass"), tmp_path)
    trigger.abort(1, "after 30 s")
    assert trigger.fire(PICTURE, 2).problem == ""
    assert trigger.fire(PICTURE, 3).problem == ""


def test_what_passes_its_limit_is_told_then_and_the_next_is_fired_once_it_has_returned():
    """However it hangs. What was ordered meanwhile is not fired when nobody expects it."""
    trigger = Waiting()
    trigger.limit_s = 0.2
    background = BackgroundTrigger(trigger)
    background.fire(PICTURE, 1, "one")
    background.fire(PICTURE, 2, "two")
    done = [*background.poll(20.0), *background.poll(0.0)]
    assert [d.ticket for d in done] == ["one", "two"]
    assert "not over after 0.2 s; what came of it is not known" in done[0].fired.problem
    assert "not tried: attempt 1" in done[1].fired.problem
    assert all(d.fired.failed and d.fired.trouble is Trouble.HANGS for d in done)
    background.fire(PICTURE, 3, "three")
    [done] = background.poll(0.0)
    assert (done.ticket, background.pending) == ("three", 0)
    trigger.limit_s = 20.0
    trigger.let.release()  # what hung returns after all: nothing more is told of it
    trigger.let.release()
    end_s = time.monotonic() + 20
    while background._at_work is not None and time.monotonic() < end_s:
        time.sleep(0.01)
    background.fire(PICTURE, 4, "four")
    assert [(d.ticket, d.fired.problem) for d in background.poll(20.0)] == [("four", "")]
    assert background.close(20.0) == []
    assert trigger.closed


def test_the_end_of_a_run_does_not_wait_for_what_is_known_to_hang():
    trigger = Waiting()
    trigger.limit_s = 0.1
    background = BackgroundTrigger(trigger)
    background.fire(PICTURE, 1, "one")
    began_s = time.monotonic()
    [done] = background.close(600.0)
    assert time.monotonic() - began_s < 20
    assert "not over after 0.1 s" in done.fired.problem
    trigger.let.release()


def test_a_trigger_that_raises_is_a_failure_not_the_end():
    background = BackgroundTrigger(Slow(0, RuntimeError("the driver is confused")))
    background.fire(PICTURE, 1, "one")
    [done] = background.poll(5.0)
    assert "the driver is confused" in done.fired.problem
    background.close(1.0)


@pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_trigger_that_cannot_be_let_go_is_told_at_the_end_of_the_run(tmp_path):
    class Stuck(SelfTimerTrigger):
        def close(self):
            raise RuntimeError("the cable is gone")

    with Session(tmp_path, SET_UP) as session:
        outcome = LiveRun(
            SET_UP, BlankSource(2.0), PlacedDetector(lambda _: 4.1),
            LiveOptions(window=False, timer=TimerOptions(1.0)), session=session, trigger=Stuck(),
        ).run()  # fmt: skip
    assert [attempt.problem for attempt in read_record(tmp_path)] == [""]
    [problem] = outcome.problems
    assert "Stuck" in problem
    assert "the cable is gone" in problem


def test_a_trigger_that_hangs_as_it_is_let_go_is_told_of():
    never = threading.Event()

    class Hanging(SelfTimerTrigger):
        def close(self):
            never.wait(60)

    background = BackgroundTrigger(Hanging())
    assert background.close(0.1) == []
    assert "Hanging had not let go" in background.closing_problem
    never.set()


class Ear:
    def __init__(self):
        self.heard = []

    def hear(self, message):
        self.heard.append((message.moment.frame.time_s, message, message.countdown))


def test_a_failing_trigger_is_told_on_screen_and_by_sound_and_recorded_and_the_run_goes_on(
    tmp_path,
):
    ear = Ear()
    fired = Fired("command", None, "release ended with code 3", 3, trouble=Trouble.COMMAND)
    with Session(tmp_path, SET_UP) as session:
        outcome = LiveRun(
            SET_UP, BlankSource(10.0), PlacedDetector(lambda _: 4.1),
            LiveOptions(window=False, timer=TimerOptions(1.0)), session=session,
            trigger=Slow(0.2, fired), listener=ear,
        ).run()  # fmt: skip
    assert outcome.pictures == 300
    [attempt] = read_record(tmp_path)
    assert (attempt.exit_code, attempt.problem) == (3, "release ended with code 3")
    told = [(t, message.troubles) for t, message, _ in ear.heard if message.troubles]
    assert told[0][0] == pytest.approx(1.0, abs=0.2)
    assert told[-1][0] == pytest.approx(7.0, abs=0.3)  # and not for ever
    assert {troubles for _, troubles in told} == {("the command failed",)}
    # That there is no picture stays true, and "taken" is never said.
    later = [state for t, _, state in ear.heard if t > 1.1]
    assert all(state.trouble for state in later)


def test_a_failure_counts_against_the_timer_that_ordered_the_picture():
    """Started anew meanwhile, the timer is on its way to another picture."""
    ordered, go_on = threading.Event(), threading.Event()

    class FailingOnce(Trigger):
        def fire(self, picture, attempt):
            ordered.set()
            assert go_on.wait(20)
            if attempt > 1:
                return Fired("command", Path("picture-0002.jpg"))
            return Fired("command", None, "it failed", trouble=Trouble.COMMAND)

        def close(self):
            pass

    class Restarting(Ear):
        anew_s = None

        def hear(self, message):
            super().hear(message)
            now_s = time.monotonic()
            if self.anew_s is None and ordered.is_set():
                self.anew_s = now_s
                run.start_timer(now_s)
                go_on.set()
            if message.troubles and self.anew_s is not None:
                run.stop()

    ear = Restarting()
    run = LiveRun(
        SET_UP, NoisyCamera(), PlacedDetector(lambda _: 4.1),
        LiveOptions(window=False, timer=TimerOptions(0.3)), trigger=FailingOnce(), listener=ear,
    )  # fmt: skip
    run.run()
    _, message, state = ear.heard[-1]
    assert message.troubles == ("the command failed",)
    assert not state.trouble


def test_the_screen_is_not_held_up_by_a_slow_trigger(tmp_path):
    """A camera's own pace: pictures go on coming while the trigger is at work."""

    ear = Ear()
    camera = NoisyCamera(lambda age_s, picture: picture if age_s < 3.0 else None)
    began = time.monotonic()
    beats = []
    ear.hear = lambda _: beats.append(time.monotonic() - began)
    with Session(tmp_path, SET_UP) as session:
        LiveRun(
            SET_UP, camera, PlacedDetector(lambda _: 4.1),
            LiveOptions(window=False, timer=TimerOptions(0.5)), session=session,
            trigger=Slow(1.0, Fired("command", None, "", 0)), listener=ear,
        ).run()  # fmt: skip
    assert max(np.diff(beats)) < 0.6
    [attempt] = read_record(tmp_path)
    assert attempt.exit_code == 0
    assert attempt.feed_time_s - camera.began_s == pytest.approx(0.5, abs=0.3)


# -- a tethered camera ---------------------------------------------------------------------------
#
# What goes right is tried against libgphoto2's own virtual camera (test_tether_virtual.py), one
# that cannot capture against its directory-backed one ("Directory Browse"). What goes wrong with a
# camera is caused by a stand-in at the binding's boundary, which behaves as the binding's
# documentation and examples say.


class GPhoto2Error(Exception):
    def __init__(self, code, string):
        super().__init__(f"[{code}] {string}")
        self.code, self.string = code, string


class FakeCamera:
    """What the binding's Camera does, from its own examples: events, paths, files that save."""

    def __init__(self, plan):
        self.plan = plan
        self.events = []
        self.exited = 0

    def init(self):
        if self.plan.get("absent"):
            raise GPhoto2Error(-105, "Unknown model")

    def get_config(self):
        raise GPhoto2Error(-6, "Unsupported operation")

    def hang_in(self, call):
        """As a camera or its driver may: until it is let go."""
        if self.plan.get("hangs") == call:
            assert self.plan["let_go"].wait(20)

    def trigger_capture(self):
        self.hang_in("trigger_capture")
        if self.plan.get("no_trigger") or self.plan.get("hangs") == "capture":
            raise GPhoto2Error(-6, "Unsupported operation")
        if self.plan.get("no_focus"):
            raise GPhoto2Error(-1, "Unspecified error")
        self.shots = getattr(self, "shots", 0) + 1
        name = "A.JPG" if self.shots == 1 else f"A{self.shots}.JPG"
        made = types.SimpleNamespace(folder="/card", name=name)
        self.events = [(0, None), (1, None), (2, made)]
        if self.plan.get("raw"):
            raw = types.SimpleNamespace(folder="/card", name=made.name.replace("JPG", "RAW"))
            self.events.append((2, raw))
        self.events.append((4, None))

    def capture(self, kind):
        self.hang_in("capture")
        return types.SimpleNamespace(folder="/card", name="B.JPG")

    def wait_for_event(self, wait_ms):
        time.sleep(0.01)
        if self.plan.get("silent") or not self.events:
            return 1, None
        return self.events.pop(0)

    def file_get(self, folder, name, kind):
        if self.plan.get("unplugged"):
            raise GPhoto2Error(-52, "Could not find the requested device on the USB port")

        self.hang_in("file_get")
        content = memoryview(f"{folder}/{name}".encode())
        return types.SimpleNamespace(get_data_and_size=lambda: content)

    def exit(self):
        self.exited += 1


def binding(**plan):
    cameras = []

    def camera():
        cameras.append(FakeCamera(plan))
        return cameras[-1]

    return types.SimpleNamespace(
        Camera=camera, cameras=cameras, GPhoto2Error=GPhoto2Error, GP_ERROR_NOT_SUPPORTED=-6,
        GP_CAPTURE_IMAGE=0, GP_EVENT_FILE_ADDED=2, GP_EVENT_TIMEOUT=1, GP_EVENT_CAPTURE_COMPLETE=4,
        GP_FILE_TYPE_NORMAL=1,
    )  # fmt: skip


def taken(trigger, attempt):
    """A picture with all its files, as the thread in the background has it made."""
    fired = trigger.fire(PICTURE, attempt)
    return trigger.fetch(fired, attempt) if fired.to_fetch else fired


@pytest.mark.parametrize(("plan", "name"), [({}, "A"), ({"no_trigger": True}, "B")])
def test_tether_captures_waits_and_fetches(tmp_path, plan, name):
    trigger = TetherTrigger(tmp_path, binding=binding(**plan))
    fired = taken(trigger, 3)
    assert (fired.trigger, fired.problem, fired.others) == ("tether", "", ())
    assert fired.picture == tmp_path / "picture-0003.jpg"
    assert fired.on_card == f"/card/{name}.JPG"
    assert fired.picture.read_bytes() == f"/card/{name}.JPG".encode()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["picture-0003.jpg"]


def test_tether_without_camera_says_so_at_the_start(tmp_path):
    with pytest.raises(UserError, match="no camera answers"):
        TetherTrigger(tmp_path, binding=binding(absent=True))


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ({"silent": True}, "no file; given up after 0.2 s"),
        ({"no_focus": True}, "did not take the picture"),
        ({"unplugged": True}, "taken, but not fetched"),
    ],
)
def test_tether_failures_are_told_and_the_camera_is_opened_anew(tmp_path, plan, words):
    gp = binding(**plan)
    trigger = TetherTrigger(tmp_path, limit_s=0.2, binding=gp)
    background = BackgroundTrigger(trigger)
    background.fire(PICTURE, 1, "one")
    [done] = background.poll(20.0)
    assert words in done.fired.problem
    plan_of_all = gp.cameras[0].plan
    plan_of_all.clear()
    trigger.limit_s = 20.0
    background.fire(PICTURE, 2, "two")
    assert [d.fired.problem for d in background.close(20.0)] == [""]
    trigger.close()
    assert gp.cameras[-1].exited == 1


def test_a_camera_that_hangs_as_its_file_is_fetched_has_taken_the_picture(tmp_path):
    let_go = threading.Event()
    gp = binding(hangs="file_get", let_go=let_go)
    background = BackgroundTrigger(TetherTrigger(tmp_path, limit_s=1.0, binding=gp))
    background.fire(PICTURE, 1, "one")
    background.fire(PICTURE, 2, "two")
    told = {}
    while len(told) < 2:
        told |= {done.ticket: done for done in background.poll(20.0)}
    one, two = told["one"], told["two"]
    let_go.set()
    assert (one.fired.failed, one.fired.on_card) == (False, "/card/A.JPG")
    assert one.fired.trouble is Trouble.NOT_FETCHED
    assert "not fetched from the camera: not over after 1 s" in one.fired.problem
    # Fired before the first was fetched, and so on the card as well.
    assert (two.fired.failed, two.fired.on_card) == (False, "/card/A2.JPG")
    assert "attempt 1 was not over yet" in two.fired.problem
    background.close(20.0)


def test_raw_and_jpeg_stay_under_their_attempt_and_a_late_raw_finds_it(tmp_path):
    """The raw of attempt 1 once lay in the queue and became the picture of attempt 2."""
    gp = binding(raw=True)
    trigger = TetherTrigger(tmp_path, binding=gp)
    one = taken(trigger, 1)
    assert [one.picture.name, *(p.name for p in one.others)] == [
        "picture-0001.jpg", "picture-0001.raw",
    ]  # fmt: skip
    gp.cameras[0].plan["raw"] = False
    two = taken(trigger, 2)
    late = types.SimpleNamespace(folder="/card", name="A2.RAW")
    gp.cameras[0].events.append((2, late))
    three = taken(trigger, 3)
    trigger.idle()
    assert (two.picture.name, two.others) == ("picture-0002.jpg", ())
    assert (three.picture.read_bytes(), three.others) == (b"/card/A3.JPG", ())
    assert (tmp_path / "picture-0002.raw").read_bytes() == b"/card/A2.RAW"


def test_a_shutter_pressed_by_hand_is_a_picture_of_no_attempt(tmp_path):
    gp = binding()
    trigger = TetherTrigger(tmp_path, binding=gp)
    gp.cameras[0].events.append((2, types.SimpleNamespace(folder="/card", name="H.JPG")))
    one = taken(trigger, 1)
    trigger.idle()
    assert one.picture.read_bytes() == b"/card/A.JPG"
    assert (tmp_path / "by-hand-0001.jpg").read_bytes() == b"/card/H.JPG"


class Bursting(Trigger):
    """Notes in what order it is asked to fire and to fetch."""

    def __init__(self):
        self.done = []

    def fire(self, picture, attempt):
        self.done.append(f"fire {attempt}")
        return Fired("bursting", released_s=time.monotonic(), to_fetch=True)

    def fetch(self, fired, attempt):
        self.done.append(f"fetch {attempt}")
        return fired

    def close(self):
        pass


def test_a_burst_is_fired_first_and_fetched_after():
    trigger = Bursting()
    background = BackgroundTrigger(trigger)
    for attempt in (1, 2, 3):
        background.fire(PICTURE, attempt, attempt, more=attempt < 3)
        time.sleep(0.1)
    assert [done.ticket for done in background.close(20.0)] == [1, 2, 3]
    assert trigger.done == ["fire 1", "fire 2", "fire 3", "fetch 1", "fetch 2", "fetch 3"]


def test_what_was_to_be_fetched_is_told_though_the_next_picture_hangs():
    class ThenHangs(Bursting):
        limit_s = 0.2
        let_go = threading.Event()

        def fire(self, picture, attempt):
            if attempt == 2:
                assert self.let_go.wait(20)
            return super().fire(picture, attempt)

    trigger = ThenHangs()
    background = BackgroundTrigger(trigger)
    background.fire(PICTURE, 1, 1, more=True)
    background.fire(PICTURE, 2, 2)
    told = {}
    while len(told) < 2:
        told |= {done.ticket: done.fired.problem for done in background.poll(20.0)}
    trigger.let_go.set()
    assert "attempt 2 was not over yet" in told[1]
    assert "not over after 0.2 s" in told[2]
    assert background.close(20.0) == []


@pytest.mark.parametrize("call", ["trigger_capture", "capture"])
def test_a_camera_that_hangs_is_told_of_at_the_limit_wherever_it_hangs(tmp_path, call):
    let_go = threading.Event()
    gp = binding(hangs=call, let_go=let_go)
    trigger = TetherTrigger(tmp_path, limit_s=0.3, binding=gp)

    class UntilTrouble(Ear):
        def hear(self, message):
            super().hear(message)
            if message.countdown.trouble and message.troubles:
                run.stop()

    ear = UntilTrouble()
    camera = NoisyCamera(lambda age_s, picture: picture if age_s < 20.0 else None)
    with Session(tmp_path, SET_UP) as session:
        run = LiveRun(
            SET_UP, camera, PlacedDetector(lambda _: 4.1),
            LiveOptions(window=False, timer=TimerOptions(0.3)),
            session=session, trigger=trigger, listener=ear,
        )  # fmt: skip
        run.run()
    let_go.set()
    assert any(state.pending for _, _, state in ear.heard)
    assert not any(state.fired and not state.trouble for _, _, state in ear.heard)
    assert ear.heard[-1][2].trouble  # NOT TAKEN, while the run went on
    assert "taking the picture took too long" in {
        t for _, message, _ in ear.heard for t in message.troubles
    }
    [attempt] = read_record(tmp_path)
    assert (attempt.trigger, attempt.picture) == ("tether", None)
    assert "not over after 0.3 s" in attempt.problem


def test_tether_against_the_librarys_own_directory_camera(tmp_path, monkeypatch):
    """The real binding: opening, fetching a file that is there, and its own word on capture."""
    gp = pytest.importorskip("gphoto2")
    card = tmp_path / "card"
    card.mkdir()
    (card / "one.jpg").write_bytes(b"\xff\xd8 not much of a picture \xff\xd9")
    abilities, ports = gp.CameraAbilitiesList(), gp.PortInfoList()
    abilities.load()
    ports.load()

    class DirectoryCamera(gp.Camera):
        def init(self):
            self.set_abilities(abilities.get_abilities(abilities.lookup_model("Directory Browse")))
            self.set_port_info(ports.get_info(ports.lookup_path(f"disk:{card}")))
            super().init()

    names = {name: getattr(gp, name) for name in dir(gp) if name.isupper() or name.startswith("GP")}
    real = types.SimpleNamespace(**{**names, "Camera": DirectoryCamera})
    kept = tmp_path / "kept"
    kept.mkdir()
    trigger = TetherTrigger(kept, limit_s=2.0, binding=real)
    fired = trigger.fire(PICTURE, 1)
    assert "did not take the picture" in fired.problem  # a folder takes no pictures
    camera = trigger._open()
    folders = [str(card), "/"]
    for folder in folders:
        try:
            content = trigger._fetch(camera, folder, "one.jpg")
            break
        except gp.GPhoto2Error:
            continue
    assert content == (card / "one.jpg").read_bytes()
    trigger.close()


# -- the command line -----------------------------------------------------------------------------


def made(*options, timed=True):
    return trigger_options.gather(trigger_options.TriggerOptions(*options), timed=timed)


def test_options_make_triggers(tmp_path):
    assert isinstance(made()(tmp_path), FrameTrigger)
    assert isinstance(made("none")(tmp_path), SelfTimerTrigger)
    assert isinstance(made("frame", sys.executable, "5s")(tmp_path), CommandTrigger)
    assert made(timed=False)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("tether", "release", "30s"), "exclude each other"),
        (("frame", "release", "0"), "--on-fire-limit"),
        (("frame", None, "5s"), "goes with --on-fire"),
        (("frame", "'", "1s"), "--on-fire"),
        (("frame", "no-such-release --now", "1s"), "no program 'no-such-release'"),
    ],
)
def test_options_that_are_wrong(arguments, words):
    with pytest.raises(UserError, match=words):
        made(*arguments)


@pytest.mark.parametrize("arguments", [("none",), ("tether",), ("frame", sys.executable)])
def test_a_trigger_that_nothing_would_fire_is_refused(arguments):
    with pytest.raises(UserError, match="needs a timer that fires it: give --timer"):
        made(*arguments, timed=False)
