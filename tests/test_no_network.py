"""Nothing leaves the machine unless `--share` is given: tried on whole runs, not on parts."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from assist.run import demo

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = demo.sample_folder()


def run(tmp_path, *arguments, **environment):
    """The outcome, what Python saw of the network, and whether the kernel stood guard too."""
    report = tmp_path / "network"
    done = subprocess.run(
        [sys.executable, "-m", "tests.no_network", report, *map(str, arguments)],
        capture_output=True, text=True, cwd=ROOT, check=False, timeout=300,
        env={**os.environ, **environment},
    )  # fmt: skip
    return done, report.read_text(), report.with_suffix(".kernel").read_text() == "yes"


@pytest.fixture(scope="module")
def short_clip(tmp_path_factory):
    """The first seconds of the shipped clip with its set-up: the person is seen and measured."""
    import cv2

    folder = tmp_path_factory.mktemp("clip")
    source = cv2.VideoCapture(str(SAMPLES / demo.CLIP))
    size = int(source.get(3)), int(source.get(4))
    writer = cv2.VideoWriter(
        str(folder / "short.mp4"), cv2.VideoWriter.fourcc(*"mp4v"), source.get(5), size
    )
    for _ in range(45):
        writer.write(source.read()[1])
    writer.release()
    return folder / "short.mp4"


@pytest.mark.parametrize("kind", ["socket", "native"])
def test_the_guards_see_a_socket(tmp_path, kind):
    done, seen, kernel = run(tmp_path, kind)
    if kernel:
        assert done.returncode == -signal.SIGSYS
    if kind == "socket":
        done, seen, _ = run(tmp_path, kind, SECCOMP="0")
        assert "socket.__new__" in seen
    elif not kernel:
        pytest.skip("this kernel does not let a process guard itself")


def test_a_run_with_everything_but_share_opens_no_socket(tmp_path, short_clip):
    done, seen, _ = run(
        tmp_path, "live", short_clip, "--set-up", SAMPLES / demo.SET_UP, "--no-window",
        "--timer", "1s", "--session", tmp_path / "session", "--output", tmp_path / "a.mp4",
    )  # fmt: skip
    assert done.returncode == 0, (done.returncode, done.stderr)
    assert seen == ""
    assert (tmp_path / "session" / "picture-0001.png").exists()
    done, seen, _ = run(tmp_path, "review", tmp_path / "session" / "picture-0001.png",
                        "--session", tmp_path / "session")  # fmt: skip
    assert done.returncode == 0, (done.returncode, done.stderr)
    assert seen == ""
    done, seen, _ = run(tmp_path, "report", tmp_path / "session")
    assert done.returncode == 0, (done.returncode, done.stderr)
    assert seen == ""


def test_share_is_what_opens_one(tmp_path, short_clip):
    """The same run with it is found out, so the test before could have failed."""
    arguments = ("live", short_clip, "--set-up", SAMPLES / demo.SET_UP, "--no-window", "--share")
    done, _, kernel = run(tmp_path, *arguments)
    if kernel:
        assert done.returncode == -signal.SIGSYS
    done, seen, _ = run(tmp_path, *arguments, SECCOMP="0")
    assert done.returncode == 0, done.stderr
    assert "socket.bind" in seen
