"""Tethered capture against libgphoto2's own virtual camera.

The binding's wheels carry the library's virtual USB port with a camera behind it that speaks PTP
(ISO 15740), the protocol of real ones. An environment variable chooses it before the binding is
loaded, so each test runs a process of its own.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from assist.run import demo
from assist.session.folder import read_record

gphoto2 = pytest.importorskip("gphoto2")
pytestmark = pytest.mark.skipif(
    not (Path(gphoto2.__file__).parent / "libgphoto2" / "vusb").is_dir(),
    reason="a binding without the virtual camera",
)
PICTURE = b"\xff\xd8 the virtual camera hands out what lies on its card \xff\xd9"


@pytest.fixture
def card(tmp_path, monkeypatch):
    folder = tmp_path / "card"
    folder.mkdir()
    (folder / "one.jpg").write_bytes(PICTURE)
    monkeypatch.setenv("VCAMERADIR", str(folder))
    return folder


def run(*words):
    return subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=False, timeout=120,
        env=dict(os.environ),
    )  # fmt: skip


@pytest.mark.usefixtures("card")
def test_a_burst_of_a_live_run_is_taken_fetched_and_recorded(tmp_path):
    samples, session = demo.sample_folder(), tmp_path / "session"
    done = run(
        "-m", "assist", "live", str(samples / demo.CLIP), "--set-up", str(samples / demo.SET_UP),
        "--no-window", "--trigger", "tether", "--timer", "10s", "--burst", "2",
        "--session", str(session),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    attempts = read_record(session)
    assert [attempt.problem for attempt in attempts] == ["", ""]
    assert [attempt.picture for attempt in attempts] == ["picture-0001.jpg", "picture-0002.jpg"]
    for attempt in attempts:
        assert (session / attempt.picture).read_bytes() == PICTURE
    # The card keeps its own: two files of the camera's own naming.
    kept = [attempt.on_card for attempt in attempts]
    assert len(set(kept)) == 2
    assert all("/DCIM/" in name for name in kept)


@pytest.mark.usefixtures("card")
def test_the_card_is_chosen_the_file_fetched_and_the_error_told_when_it_is_gone(tmp_path):
    probe = """
import json, sys
from pathlib import Path
import numpy as np
from assist.camera.tether import TetherTrigger
kept = Path(sys.argv[1])
trigger = TetherTrigger(kept, limit_s=5.0)
target = trigger._camera.get_config().get_child_by_name("capturetarget").get_value()
fired = trigger.fetch(trigger.fire(np.zeros((8, 8, 3), np.uint8), 7), 7)
try:
    trigger._fetch(trigger._camera, "/nowhere", "none.jpg")
    missing = ""
except trigger._gp.GPhoto2Error as error:
    missing = str(error)
trigger.close()
again = trigger.fetch(trigger.fire(np.zeros((8, 8, 3), np.uint8), 8), 8)
print(json.dumps([target, fired.picture.name, fired.on_card, missing, again.problem]))
"""
    kept = tmp_path / "kept"
    kept.mkdir()
    done = run("-W", "ignore", "-c", probe, str(kept))
    assert done.returncode == 0, done.stderr
    target, name, on_card, missing, again = json.loads(done.stdout.splitlines()[-1])
    assert target == "Memory card"
    assert name == "picture-0007.jpg"
    assert (kept / name).read_bytes() == PICTURE
    assert on_card
    assert missing
    assert again == ""
    assert sorted(path.name for path in kept.iterdir()) == ["picture-0007.jpg", "picture-0008.jpg"]


def test_no_camera_is_told_before_the_run(tmp_path, monkeypatch):
    monkeypatch.delenv("VCAMERADIR", raising=False)
    samples = demo.sample_folder()
    done = run(
        "-m", "assist", "live", str(samples / demo.CLIP), "--set-up", str(samples / demo.SET_UP),
        "--no-window", "--trigger", "tether", "--timer", "10s", "--session", str(tmp_path / "s"),
    )  # fmt: skip
    assert done.returncode == 2
    assert "no camera answers on the cable" in done.stderr
    assert "Traceback" not in done.stderr
