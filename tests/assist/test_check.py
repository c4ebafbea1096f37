"""The check of the machine: bounded in time, unhurt by crashes, honest, and without names."""

import json
import os
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from assist.base.system import System, cameras, here
from assist.base.words import Words, speaking
from assist.check import findings, probe_process, sequence
from assist.check.probe_process import MARK, ProbeResult, look_by
from assist.run import demo

ROOT = Path(__file__).resolve().parents[2]
GOOD = {
    "libraries": ProbeResult("done", {"opencv": "4", "mediapipe": "0.10", "numpy": "1"}),
    "feed": ProbeResult(
        "done", {"opened": True, "width_px": 1280, "height_px": 720, "rate_hz": 30.0}
    ),
    "window": ProbeResult("done", {"shown": True}),
    "video": ProbeResult("done", {"read": True, "written": True}),
    "sound": ProbeResult("done", {"rate_hz": 48000, "latency_s": 0.1}),
    "speech": ProbeResult("done", {"program": "espeak-ng"}),
    "tether": ProbeResult("done", {"cameras": 1, "names": ["A camera"]}),
    "model": ProbeResult(
        "done", {"loaded": True, "pictures": 90, "with_person": 90, "rate_hz": 22.0}
    ),
}
NOT_THERE = ProbeResult("done", {}, "camera does not open")
HANGS = ProbeResult("late", {"opened": True}, "no answer within 10 s")


# Probes in processes of their own.


def python(code):
    return [sys.executable, "-c", f"MARK = {MARK!r}\n{textwrap.dedent(code)}"]


def test_what_a_probe_tells_is_found_among_other_output():
    code = """
        print("chatter of a library")
        print(MARK + '{"a": 1}')
        print(MARK + '{"a": 2, "b": null}')
        print(MARK + '{"cut sho')
    """
    assert look_by(here(), python(code), 20) == ProbeResult("done", {"a": 2, "b": None})


def test_a_probe_that_hangs_is_ended_and_what_it_told_is_kept(tmp_path):
    begun = tmp_path / "begun"
    code = f"""
        import pathlib, signal, subprocess, sys, time
        print(MARK + '{{"opened": true}}', flush=True)
        pathlib.Path({str(begun)!r}).touch()
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        # A child that holds the output open.
        subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
        time.sleep(60)
    """
    began_s = time.monotonic()
    seen = look_by(here(), python(code), 4)
    assert begun.exists()
    assert time.monotonic() - began_s < 30
    assert seen == ProbeResult("late", {"opened": True}, "no answer within 4 s")


def test_a_probe_that_crashes_is_told_by_its_last_words():
    code = "import os, sys; print('no plugin', file=sys.stderr, flush=True); os.abort()"
    assert look_by(here(), python(code), 20) == ProbeResult("crashed", {}, "no plugin")
    silent = look_by(here(), python("import os; os.abort()"), 20)
    assert silent.ended == "crashed"
    assert silent.problem


def test_a_program_that_is_not_there():
    assert "cannot be run" in look_by(here(), ["/no/such/program"], 5).problem


def test_a_probe_runs_whatever_lies_in_the_folder(tmp_path, monkeypatch):
    for name in ("json", "cv2", "assist", "tempfile"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('shadowed')")
    monkeypatch.chdir(tmp_path)
    seen = probe_process.look(here(), "feed", "gone.mp4", limit_s=60)
    assert seen.ended == "done"
    assert "gone.mp4" in seen.problem


def test_home_and_user_are_taken_out(monkeypatch, tmp_path):
    home = tmp_path / "somebody"
    monkeypatch.setattr(Path, "home", lambda: home)
    text = f"cannot write {home}/.cache/x; /media/somebody/card is full; somebody else"
    assert probe_process.without_names(text) == (
        "cannot write ~/.cache/x; /media/~/card is full; somebody else"
    )


# What is seen, in words.


def run(system=None, which_feed="clip.mp4", **seen):
    """The findings with these answers of the probes instead of good ones."""
    looks = GOOD | seen

    def look(_system, probe, *arguments, limit_s):
        assert limit_s > 0
        answer = looks[probe]
        return answer(*arguments) if callable(answer) else answer

    system = system or System("macos", which=lambda name: f"/usr/bin/{name}")
    return list(sequence.run(system, feed=which_feed, look=look))


def run_cameras(system, feed):
    return list(
        sequence.run(
            system,
            look=lambda _system, probe, *arguments, limit_s: (
                feed(*arguments) if probe == "feed" else GOOD[probe]
            ),
        )
    )


def by_name(found):
    return {finding.what: finding for finding in found}


def test_all_well():
    found = run()
    assert sequence.missing(found) == []
    for name in ("feed", "window", "video files", "sound", "speech", "pose model", "speed"):
        assert by_name(found)[name].works, name
    assert by_name(found)["speed"].said == (
        "22 pictures a second; to spare a battery, 10 while you stand still or nobody is in view"
    )
    assert by_name(found)["camera on a cable"].named == "A camera"


@pytest.mark.parametrize(
    ("probe", "seen", "what", "lacks"),
    [
        ("libraries", ProbeResult("done", {}, "libGL.so.1: cannot open"), "libraries", "libraries"),
        ("model", ProbeResult("late", {"loaded": True}, "no answer"), "pose model", "pose model"),
        ("model", ProbeResult("crashed", {}, "ended with code -4"), "pose model", "pose model"),
        ("feed", HANGS, "feed", "feed"),
    ],
)
def test_what_the_main_job_cannot_do_without(probe, seen, what, lacks):
    found = run(**{probe: seen})
    finding = by_name(found)[what]
    assert finding.state == "does not work"
    assert finding.mend
    assert any(lacks in text for text in sequence.missing(found))


def test_one_way_of_telling_is_enough(monkeypatch):
    crashed = ProbeResult("crashed", {}, "ended with code -6")
    silent = ProbeResult("done", {}, "there is no output device", "device")
    monkeypatch.setattr(findings.importlib.util, "find_spec", lambda name: None)
    assert sequence.missing(run(window=crashed)) == []
    assert sequence.missing(run(sound=silent)) == []
    [lacks] = sequence.missing(run(window=crashed, sound=silent))
    assert "a way to tell you" in lacks


def test_nothing_that_does_not_work_is_without_a_way_to_mend_it(monkeypatch):
    monkeypatch.setattr(findings.importlib.util, "find_spec", lambda name: None)
    bad = {probe: ProbeResult("crashed", {}, "ended with code -11") for probe in GOOD}
    for kind in ("linux", "macos", "windows", "other"):
        found = run(System(kind), **bad)
        found += run(System(kind), which_feed=None, **{**bad, "libraries": GOOD["libraries"]})
        for finding in found:
            assert finding.works or finding.mend, (kind, finding)
            assert "\n" not in finding.mend + finding.said


@pytest.mark.parametrize("probe", ["libraries", "model", "video", "window", "sound", "speech"])
def test_what_did_not_answer_may_only_be_slow(probe):
    found = run(**{probe: ProbeResult("late", {}, "no answer within 10 s")})
    [late] = [finding for finding in found if finding.said == "no answer within 10 s"]
    assert "--patience" in late.mend


def test_slow_is_told():
    slow = ProbeResult("done", {**GOOD["model"].values, "rate_hz": 4.0})
    assert "slow" in by_name(run(model=slow))["speed"].said


def test_no_display_is_said_and_no_window_is_tried():
    def never():
        raise AssertionError("a window was tried")

    window = by_name(run(System("linux"), window=never))["window"]
    assert (window.state, window.said) == ("not here", "no display")


MISSING_LIBRARY = ProbeResult("done", {}, "libSM.so.6: cannot open shared object file")


def test_the_package_is_named_where_the_system_has_such():
    debian = System("linux", which=lambda name: f"/usr/bin/{name}" if name == "apt-get" else None)
    assert "sudo apt-get install" in by_name(run(debian, libraries=MISSING_LIBRARY))[
        "libraries"
    ].mend  # fmt: skip
    other = by_name(run(System("linux"), libraries=MISSING_LIBRARY))["libraries"].mend
    assert "libsm6" in other
    assert "apt-get" not in other


def test_no_binding_for_a_cable():
    seen = ProbeResult("done", {}, "the binding is not there", "binding")
    assert "[tether]" in by_name(run(tether=seen))["camera on a cable"].mend
    assert "--on-fire" in by_name(run(System("windows"), tether=seen))["camera on a cable"].mend


@pytest.mark.parametrize(
    ("lacks", "state", "mend"),
    [
        ("package", "not installed", "[sound]"),
        ("library", "not installed", "libportaudio2"),
        ("device", "not here", "headphones"),
        ("", "does not work", "sound settings"),
    ],
)
def test_how_to_mend_the_sound_follows_what_it_lacks_in_any_language(lacks, state, mend):
    seen = ProbeResult("done", {}, "Worte einer anderen Sprache", lacks)
    debian = System("linux", which=lambda name: f"/usr/bin/{name}" if name == "apt-get" else None)
    finding = by_name(run(debian, sound=seen))["sound"]
    assert finding.state == state
    assert mend in finding.mend


def test_how_to_mend_model_and_speech_follows_what_they_lack():
    seen = ProbeResult("done", {}, "Worte einer anderen Sprache", "model")
    assert "--pose-model" in by_name(run(model=seen))["pose model"].mend
    seen = ProbeResult("done", {}, "Worte einer anderen Sprache", "engine")
    speech = by_name(run(speech=seen))["speech"]
    assert (speech.state, speech.said) == ("not installed", "no speech engine found")


def test_a_probe_speaks_the_language_of_the_caller():
    told = {}
    for language in ("en", "de"):
        with speaking(Words(language)):
            told[language] = probe_process.look(here(), "feed", "gone.mp4", limit_s=60).problem
    assert told["en"] != told["de"]
    assert all("gone.mp4" in line for line in told.values())


# Cameras.


def camera_folder(root, number, name, index=0):
    entry = root / "sys" / "class" / "video4linux" / f"video{number}"
    entry.mkdir(parents=True)
    (entry / "name").write_text(name)
    (entry / "index").write_text(str(index))
    device = root / "dev" / f"video{number}"
    device.parent.mkdir(exist_ok=True)
    device.touch()


def test_cameras_of_linux(tmp_path):
    camera_folder(tmp_path, 0, "Somebody's webcam")
    camera_folder(tmp_path, 1, "Somebody's webcam", index=1)
    camera_folder(tmp_path, 2, "Capture card")
    answers = {"0": GOOD["feed"], "1": NOT_THERE, "2": HANGS}
    found = run_cameras(System("linux", root=tmp_path), answers.__getitem__)
    seen = [finding for finding in found if finding.what.startswith("camera ")]
    assert [finding.what for finding in seen[:2]] == ["camera 0", "camera 2"]
    assert seen[0].said == "1280 x 720, 30 pictures a second"
    assert seen[0].named == "Somebody's webcam"
    assert "gives no picture" in seen[1].said


def test_a_camera_that_may_not_be_opened_is_not_tried(tmp_path, monkeypatch):
    camera_folder(tmp_path, 0, "A webcam")
    camera_folder(tmp_path, 1, "Another")
    (tmp_path / "dev" / "video1").unlink()
    monkeypatch.setattr(cameras.os, "access", lambda path, mode: False)

    def never(name):
        raise AssertionError("a camera was tried")

    found = by_name(run_cameras(System("linux", root=tmp_path), never))
    assert found["camera 0"].said == "permission denied"
    assert "usermod" in found["camera 0"].mend
    assert found["camera 1"].said == "its device file is missing"


@pytest.mark.parametrize("kind", ["windows", "macos"])
def test_cameras_asked_by_number(kind):
    asked = []

    def feed(name):
        asked.append(name)
        return NOT_THERE if name == "2" else GOOD["feed"]

    found = by_name(run_cameras(System(kind), feed))
    assert asked == ["0", "1", "2"]
    assert found["camera 0"].works
    assert found["camera 1"].works
    assert "camera 2" not in found


@pytest.mark.parametrize(
    ("kind", "hint"),
    [("macos", "Privacy & Security"), ("windows", "desktop apps"), ("linux", "plug one in")],
)
def test_no_camera(kind, hint, tmp_path):
    found = run_cameras(System(kind, root=tmp_path), lambda _name: NOT_THERE)
    camera = by_name(found)["camera"]
    assert camera.state == "not here"
    assert hint in camera.mend
    assert "a camera or feed that works" in sequence.missing(found)


def test_a_camera_that_hangs_is_told_and_the_next_one_looked_at():
    found = by_name(
        run_cameras(System("windows"), lambda name: HANGS if name == "0" else GOOD["feed"])
    )
    assert "no answer within 10 s" in found["camera 0"].said
    assert found["camera 1"].works


def test_a_black_picture_is_told():
    black = ProbeResult("done", {**GOOD["feed"].values, "black": True})
    finding = by_name(run_cameras(System("macos"), lambda _name: black))
    assert "cover" in finding["camera 0"].mend


# For passing on.


def test_json_has_no_names(tmp_path):
    camera_folder(tmp_path, 0, "Somebody's webcam")
    found = run_cameras(System("linux", root=tmp_path), lambda _name: GOOD["feed"])
    assert by_name(found)["camera 0"].named == "Somebody's webcam"
    text = json.dumps(sequence.as_json(found))
    for name in ("Somebody", "A camera", str(tmp_path)):
        assert name not in text, name
    assert json.loads(text)["ready"] is True


# The command.


@pytest.fixture
def check(tmp_path):
    def check(*arguments, path=(), **environment):
        places = os.pathsep.join(map(str, (*path, ROOT)))
        return subprocess.run(
            [sys.executable, "-c", "from assist.cli import main; main()", *map(str, arguments)],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": places, **environment},
            capture_output=True,
            text=True,
            check=False,
            timeout=900,  # a bound for the test, not for the program
        )

    return check


NO_NETWORK = """
import socket, sys

def watch(event, arguments):
    if event in ("socket.getaddrinfo", "socket.bind") or (
        event in ("socket.connect", "socket.sendto") and arguments[0].family != socket.AF_UNIX
    ):
        with open({log!r}, "a") as file:
            print(event, arguments, file=file)

sys.addaudithook(watch)
"""


def test_a_real_check_on_the_sample_without_network(check, tmp_path):
    log = tmp_path / "network"
    (tmp_path / "hook").mkdir()
    (tmp_path / "hook" / "sitecustomize.py").write_text(NO_NETWORK.format(log=str(log)))
    clip = demo.sample_folder() / demo.CLIP
    done = check("check", clip, "--json", "--patience", "5", path=[tmp_path / "hook"])
    assert done.stderr == ""
    told = json.loads(done.stdout)
    assert done.returncode == (0 if told["ready"] else 1)
    states = {finding["what"]: finding["state"] for finding in told["findings"]}
    for what in ("program", "libraries", "feed", "video files", "pose model", "speed", "storage"):
        assert states[what] == "works", told
    assert not log.exists(), log.read_text()
    assert [path.name for path in tmp_path.iterdir()] == ["hook"]


@pytest.fixture
def without_graphics(tmp_path):
    """A place to import from, in which OpenCV does not load."""
    place = tmp_path / "broken"
    place.mkdir()
    (place / "cv2.py").write_text(
        "raise ImportError('libGL.so.1: cannot open shared object file: No such file or directory')"
    )
    return place


def test_without_graphics_library_there_is_one_line(check, without_graphics):
    done = check("live", path=[without_graphics])
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("assist: a library does not load: libGL.so.1")
    assert "libgl1" in done.stderr
    assert done.stderr.count("\n") == 1
    for needs_none in (("--version",), ("--help",), ("plan", "--help")):
        assert check(*needs_none, path=[without_graphics]).returncode == 0


def test_without_graphics_library_the_check_still_tells(check, without_graphics):
    done = check("check", path=[without_graphics])
    assert (done.returncode, done.stderr) == (1, "")
    assert "libGL.so.1" in done.stdout
    assert "libgl1" in done.stdout
    assert "Not ready" in done.stdout
    assert "speech" in done.stdout


class _Marked(Words):
    """A language in which each message stands in brackets."""

    def gettext(self, message, **values):
        return f"[{message.format(**values) if values else message}]"


def test_findings_are_told_in_the_language_of_the_caller_whichever_thread_finds_them():
    plain = sequence.as_json(run())
    with speaking(_Marked()):
        found = run()
    assert {f.title for f in found} >= {"program", "sound", "speech", "feed"}
    assert [(f.what, f.state) for f in found] == [
        (f["what"], f["state"]) for f in plain["findings"]
    ]
    by_name = {f.what: f for f in found}
    assert by_name["speech"].said == "[by espeak-ng]"
    assert by_name["video files"].said == "[read and written]"
    with speaking(_Marked()):
        assert by_name["sound"].title == "[sound]"
        assert findings.title("camera 2") == "[camera 2]"
