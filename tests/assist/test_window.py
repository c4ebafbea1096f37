"""A real window, on a real (virtual) display, driven by real key presses.

Needs xdotool, Xvfb and openbox, which CI installs; skipped where they are missing. The window
manager is not for looks: on a bare X server the toolkit now and then misses that its first window
has been mapped, and paints nothing (on a busy machine in about a third of the runs).
"""

import contextlib
import http.server
import io
import os
import re
import shutil
import subprocess
import sys
import threading
import time

import cv2
import numpy as np
import pytest
from PIL import Image, ImageGrab

pytestmark = [
    pytest.mark.window,
    pytest.mark.skipif(
        not (sys.platform == "linux" and all(map(shutil.which, ("Xvfb", "xdotool", "openbox")))),
        reason="needs Xvfb, xdotool and openbox",
    ),
]
TITLE = "Self-portrait assistant"


@pytest.fixture
def display(tmp_path):
    read_end, write_end = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write_end), "-screen", "0", "1600x1000x24", "-nolisten", "tcp",
         "-noreset"],
        pass_fds=[write_end], stderr=subprocess.DEVNULL,
    )  # fmt: skip
    name = f":{os.read(read_end, 16).decode().strip()}"
    environment = {**os.environ, "DISPLAY": name, "XDG_CONFIG_HOME": str(tmp_path / "none")}
    manager = subprocess.Popen(
        ["openbox"], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    ready = ["xdotool", "get_num_desktops"]  # answered by a window manager alone
    assert eventually(
        lambda: (
            not subprocess.run(ready, env=environment, capture_output=True, check=False).returncode
        )
    )
    yield name
    manager.terminate()
    manager.wait()
    server.terminate()
    server.wait()


@pytest.fixture
def clip(tmp_path):
    path = tmp_path / "room.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (320, 180))
    lit = np.zeros((180, 320, 3), np.uint8)
    lit[:, :160] = 255
    for _ in range(6000):
        writer.write(lit)
    writer.release()
    return path


class Running:
    """The program in its own process, on the given display."""

    def __init__(self, display, *arguments):
        self.environment = {**os.environ, "DISPLAY": display, "QT_QPA_PLATFORM": "xcb"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", "from assist.cli import main; main()", *map(str, arguments)],
            env=self.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self._wait_for_window()

    def tool(self, *arguments):
        done = subprocess.run(
            ["xdotool", *arguments],
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )
        return done.stdout.strip()

    def _wait_for_window(self):
        for _ in range(600):
            if self._find_window():
                return
            if self.process.poll() is not None:
                break
            time.sleep(0.2)
        raise AssertionError(f"no window: {self.process.communicate()}")

    def _find_window(self):
        found = self.tool("search", "--onlyvisible", "--name", TITLE)
        return found.splitlines()[-1] if found else None

    @property
    def window(self):
        """The window as it is now: while it is set up, the toolkit may make it anew."""
        found = self._find_window()
        assert found, "the window has gone"
        return found

    def press(self, key):
        self.tool("windowfocus", self.window)
        self.tool("key", "--window", self.window, key)

    def _told(self, *names):
        lines = self.tool("getwindowgeometry", "--shell", self.window).splitlines()
        values = dict(line.split("=") for line in lines)
        return tuple(int(values[name]) for name in names)

    def geometry(self):
        return self._told("WIDTH", "HEIGHT")

    def place(self):
        """Its corner, give or take the frame that the window manager draws."""
        return self._told("X", "Y")

    def screenshot(self):
        """Pixels of the whole display, by the X server itself."""
        done = subprocess.run(
            ["import", "-window", "root", "-depth", "8", "rgb:-"],
            env=self.environment, capture_output=True, check=True,
        )  # fmt: skip
        return np.frombuffer(done.stdout, np.uint8).reshape(1000, 1600, 3)

    def ask_to_close(self):
        """What a window manager sends when its close button is pressed (ICCCM)."""
        from Xlib import X
        from Xlib.display import Display
        from Xlib.protocol.event import ClientMessage

        server = Display(self.environment["DISPLAY"])
        window = server.create_resource_object("window", int(self.window))
        data = (32, [server.intern_atom("WM_DELETE_WINDOW"), X.CurrentTime, 0, 0, 0])
        protocols = server.intern_atom("WM_PROTOCOLS")
        window.send_event(ClientMessage(window=window, client_type=protocols, data=data))
        server.sync()
        server.close()

    def end(self, timeout_s=30):
        try:
            out, err = self.process.communicate(timeout=timeout_s)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        return self.process.returncode, out, err


LENS = ("--lens", "35mm", "--aperture", "f/2", "--focus", "4m", "--window", "--real-time",
        "--no-sound")  # fmt: skip


def lit_columns(shot):
    """Middle of the white half of the test picture across the display; nan where there is none."""
    white = (shot > 245).all(axis=2)
    columns = np.flatnonzero(white.sum(axis=0) > 150)
    return columns.mean() if columns.size else np.nan


def eventually(true, seconds=40):
    """Wait until it is true; a busy machine may take its time."""
    end_s = time.monotonic() + seconds
    while time.monotonic() < end_s:
        if true():
            return True
        time.sleep(0.2)
    return False


@pytest.mark.skipif(not shutil.which("import"), reason="needs ImageMagick for screenshots")
def test_open_mirror_and_quit_by_key(display, clip):
    running = Running(display, "live", clip, *LENS)
    assert eventually(lambda: np.isfinite(lit_columns(running.screenshot())))
    mirrored = lit_columns(running.screenshot())
    running.press("m")
    # White at the left of the feed was shown at the right.
    assert eventually(lambda: lit_columns(running.screenshot()) < mirrored - 100)
    running.press("q")
    code, out, err = running.end()
    assert (code, err) == (0, "")
    assert "pictures" in out


@pytest.mark.skipif(not shutil.which("import"), reason="needs ImageMagick for screenshots")
def test_resize_and_full_screen(display, clip):
    running = Running(display, "live", clip, *LENS)
    running.tool("windowsize", running.window, "900", "600")
    assert eventually(lambda: running.geometry() == (900, 600))
    running.press("f")
    assert eventually(lambda: running.geometry() == (1600, 1000))
    # The picture grows with the window; in the smaller one its white half has a third of that.
    assert eventually(lambda: (running.screenshot() > 245).all(axis=2).sum() > 40_000)
    running.press("f")
    assert eventually(lambda: running.geometry() == (900, 600))
    running.press("Escape")
    assert running.end()[0] == 0


@pytest.mark.skipif(not shutil.which("import"), reason="needs ImageMagick for screenshots")
def test_closing_the_window_ends_the_run(display, clip):
    running = Running(display, "live", clip, *LENS, "--window-at", "200,100")
    assert eventually(lambda: np.isfinite(lit_columns(running.screenshot())))
    assert running.place() == pytest.approx((200, 100), abs=50)
    running.ask_to_close()
    code, _, err = running.end()
    assert "Traceback" not in err
    assert code == 0


def test_timer_by_key(display, clip, tmp_path):
    folder = tmp_path / "kept"
    how = ("--timer", "1s", "--session", folder, "--window-at", "0,0")
    running = Running(display, "live", clip, *LENS, *how)
    assert eventually(lambda: max(running.place()) < 50)

    def pictures():
        return len(list(folder.glob("picture-*.png")))

    assert eventually(lambda: pictures() == 1)  # a file's countdown starts by itself
    running.press("t")
    assert eventually(lambda: pictures() == 2)
    running.press("q")
    assert running.end()[0] == 0


def test_the_delay_of_a_feed_that_sees_the_screen_is_measured(display):
    """The screen itself, grabbed, in a mirror, is the feed: over HTTP, and later by so much."""
    late_s, made, over = 0.4, [], threading.Event()

    def grab():
        while not over.wait(0.03):
            taken_s = time.monotonic()
            seen = ImageGrab.grab(xdisplay=display).resize((800, 500))
            content = io.BytesIO()
            seen.transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(content, "JPEG")
            made.append((taken_s, content.getvalue()))

    class Sender(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(200)
            self.send_header("Content-Type", "multipart/x-mixed-replace; boundary=next")
            self.end_headers()
            sent_s = 0.0
            with contextlib.suppress(OSError):
                while not over.wait(0.003):
                    due = [one for one in made if sent_s < one[0] <= time.monotonic() - late_s]
                    if due:
                        sent_s, jpeg = due[-1]
                        self.wfile.write(b"--next\r\n\r\n" + jpeg + b"\r\n")

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Sender)
    server.daemon_threads = True
    for run in (grab, server.serve_forever):
        threading.Thread(target=run, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_port}/"
    done = subprocess.run(
        [sys.executable, "-m", "assist", "calibrate", "delay", address, "--seconds", "4"],
        env={**os.environ, "DISPLAY": display}, capture_output=True, text=True, check=False,
        timeout=120,
    )  # fmt: skip
    over.set()
    server.shutdown()
    server.server_close()
    assert done.returncode == 0, done.stderr
    measured_s = float(re.search(r"come (\d\.\d+) s late", done.stdout)[1])
    assert measured_s == pytest.approx(late_s, abs=0.08)
    assert f"--feed-delay {measured_s:.2f}s" in done.stdout
