"""What differs between operating systems, every branch on whatever system the tests run on."""

import errno
import importlib
import os
import socket
import subprocess
import sys
import tempfile
import types
from pathlib import Path

import pytest

from assist.base.system import System, cameras, display, here, locks, processes

ROOT = Path(__file__).resolve().parents[2]
posix = pytest.mark.skipif(os.name != "posix", reason="POSIX's own")


def test_nothing_else_asks_which_system_it_is():
    asks = ("sys.platform", "os.name", "platform.system", "fcntl", "msvcrt", "os.killpg")
    found = [
        f"{path.relative_to(ROOT)}: {word}"
        for package in ("assist", "optics")
        for path in (ROOT / package).rglob("*.py")
        if path.parent != ROOT / "assist" / "base" / "system"
        # What must be set before anything is imported.
        and path != ROOT / "assist" / "__init__.py"
        for word in asks
        if word in path.read_text(encoding="utf-8")
    ]
    assert found == []


@pytest.mark.parametrize(
    ("platform", "kind"),
    [("linux", "linux"), ("darwin", "macos"), ("win32", "windows"), ("freebsd14", "other")],
)
def test_the_kind_of_system(monkeypatch, platform, kind):
    monkeypatch.setattr(sys, "platform", platform)
    assert here().kind == kind
    assert here().posix == (kind != "windows")


# Displays.


@pytest.mark.parametrize("kind", ["windows", "macos"])
def test_windows_and_macos_have_a_display(kind):
    assert display.problem(System(kind)) == ""


@pytest.mark.parametrize("kind", ["linux", "other"])
def test_no_display(kind):
    assert display.problem(System(kind)) == "no display"
    wayland = System(kind, {"WAYLAND_DISPLAY": "wayland-0"})
    assert display.problem(wayland) == "Wayland without XWayland"


@posix
def test_a_display_that_answers_and_one_that_does_not():
    with tempfile.TemporaryDirectory() as folder:  # short: a socket's name has a limit
        place = Path(folder, "tmp", ".X11-unix")
        place.mkdir(parents=True)
        with socket.socket(socket.AF_UNIX) as server:
            server.bind(str(place / "X931"))
            server.listen()
            for name in (":931", ":931.0", "unix:931"):
                system = System("linux", {"DISPLAY": name}, root=Path(folder))
                assert display.problem(system) == "", name
        system = System("linux", {"DISPLAY": ":931"}, root=Path(folder))
        assert display.problem(system) == "display :931 does not answer"


def test_a_display_on_a_port_that_does_not_answer():
    assert "does not answer" in display.problem(System("linux", {"DISPLAY": "localhost:59000"}))


def test_a_display_on_a_port_that_answers():
    with socket.create_server(("127.0.0.1", 0)) as server:
        number = server.getsockname()[1] - 6000
        assert display.problem(System("linux", {"DISPLAY": f"127.0.0.1:{number}.0"})) == ""


# Cameras.


def video_device(root, number, name, index=0, driver=None):
    entry = root / "sys" / "class" / "video4linux" / f"video{number}"
    entry.mkdir(parents=True)
    (entry / "name").write_text(name + "\n")
    (entry / "index").write_text(f"{index}\n")
    if driver is not None:
        target = root / "sys" / "bus" / "usb" / "drivers" / driver
        target.mkdir(parents=True, exist_ok=True)
        (entry / "device").mkdir()
        (entry / "device" / "driver").symlink_to(target)


@posix
def test_cameras_that_linux_lists(tmp_path):
    video_device(tmp_path, 10, "Capture card")
    video_device(tmp_path, 0, "Some webcam", driver="uvcvideo")
    video_device(tmp_path, 1, "Some webcam", index=1, driver="uvcvideo")
    (tmp_path / "sys/class/video4linux/v4l-subdev0").mkdir()
    assert cameras.listed(System("linux", root=tmp_path)) == [
        cameras.CameraDevice(0, "Some webcam", "uvcvideo"),
        cameras.CameraDevice(1, "Some webcam", "uvcvideo", further=True),
        cameras.CameraDevice(10, "Capture card"),
    ]


def test_linux_without_cameras(tmp_path):
    assert cameras.listed(System("linux", root=tmp_path)) == []


@pytest.mark.parametrize("kind", ["windows", "macos", "other"])
def test_systems_without_a_list_are_asked_by_number(kind, tmp_path):
    video_device(tmp_path, 0, "Some webcam")
    assert cameras.listed(System(kind, root=tmp_path)) is None


# Locks.


@pytest.fixture
def handle(tmp_path):
    number = locks.open_for_lock(System("windows"), tmp_path)
    yield number
    os.close(number)


def test_windows_locks_a_file_of_its_own_in_the_folder(tmp_path, handle):
    assert [path.name for path in tmp_path.iterdir()] == [locks.LOCK_FILE]


@pytest.mark.parametrize(
    ("error", "free"), [(None, True), (errno.EACCES, False), (errno.ENOLCK, True)]
)
def test_windows_locks_through_its_own_module(monkeypatch, handle, error, free):
    asked = []

    def locking(number, mode, size):
        asked.append((number, mode, size))
        if error is not None:
            raise OSError(error, "no")

    module = types.SimpleNamespace(LK_NBLCK=2, locking=locking)
    monkeypatch.setattr(importlib, "import_module", {"msvcrt": module}.__getitem__)
    assert locks.try_lock(System("windows"), handle) is free
    assert asked == [(handle, 2, 1)]


@posix
def test_elsewhere_the_folder_itself_is_locked(tmp_path):
    system = System("linux")
    first, second = (locks.open_for_lock(system, tmp_path) for _ in range(2))
    try:
        assert locks.try_lock(system, first)
        assert not locks.try_lock(system, second)
        assert list(tmp_path.iterdir()) == []
    finally:
        os.close(first)
        os.close(second)


def test_a_folders_names_are_put_on_the_disk_where_there_is_a_way(tmp_path, monkeypatch):
    synced = []
    monkeypatch.setattr(os, "fsync", synced.append)
    locks.sync_folder(System("windows"), tmp_path)
    assert synced == []
    if os.name == "posix":
        locks.sync_folder(System("linux"), tmp_path)
        assert len(synced) == 1


# Processes.


def test_arguments_are_quoted_as_on_each_system():
    line = r'"C:\My tools\release.exe" --port COM3'
    assert processes.split(System("windows"), line) == (
        r"C:\My tools\release.exe",
        "--port",
        "COM3",
    )
    assert processes.split(System("linux"), r"'/my tools/release' a\ b") == (
        "/my tools/release",
        "a b",
    )


def test_a_process_group_where_there_are_such():
    assert processes.group_of_its_own(System("macos")) == {"start_new_session": True}
    assert processes.group_of_its_own(System("windows")) == {}


def test_windows_ends_a_process_with_its_children(monkeypatch):
    asked = []
    monkeypatch.setattr(subprocess, "run", lambda command, **_: asked.append(command))
    process = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    processes.end(System("windows"), process)
    assert asked == [["taskkill", "/T", "/F", "/PID", str(process.pid)]]
    assert process.poll() is not None


def test_without_that_program_the_process_itself_is_ended(monkeypatch):
    def missing(*_, **__):
        raise FileNotFoundError

    monkeypatch.setattr(subprocess, "run", missing)
    process = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    processes.end(System("windows"), process)
    assert process.poll() is not None


@posix
def test_a_process_that_is_deaf_to_polite_words_is_ended():
    code = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print(flush=True); \
time.sleep(60)"
    system = System("linux")
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, **processes.group_of_its_own(system)
    )
    process.stdout.readline()
    processes.end(system, process)
    process.stdout.close()
    assert process.poll() is not None
