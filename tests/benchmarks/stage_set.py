"""What the benchmarks of the live run stand on: footage as a camera gives it, and a full house.

The clip looped and paced like a camera, a display without a screen, a loudspeaker without sound,
and a second screen that reads all that it is sent.
"""

from __future__ import annotations

import contextlib
import http.client
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2

from assist.base.words import Words
from assist.feed import Frame
from assist.output.listeners import Listener
from assist.output.phone.listener import SecondScreen
from assist.output.phone.page_settings import page_settings
from assist.output.phone.page_words import page_words
from assist.output.phone.pairing import Pairing
from assist.output.phone.server import ShareServer
from assist.output.screen.plan_view import PlanView
from assist.output.sound.listener import Tones
from assist.output.sound.renderer import Samples
from assist.setup.set_up import SetUp

SKIPPED = 40
"""Pictures at the start of the clip in which no one is seen yet."""


def scaled_clip(clip: Path, height: int, folder: Path, pictures: int) -> Path:
    """The clip's pictures with a person in them, at another size; the file it made."""
    path = folder / f"walk-{height}.mp4"
    capture = cv2.VideoCapture(str(clip))
    width = round(height * capture.get(cv2.CAP_PROP_FRAME_WIDTH)
                  / capture.get(cv2.CAP_PROP_FRAME_HEIGHT))  # fmt: skip
    rate_hz = capture.get(cv2.CAP_PROP_FPS)
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), rate_hz, (width, height))
    for index in range(SKIPPED + pictures):
        found, picture = capture.read()
        if not found:
            break
        if index >= SKIPPED:
            writer.write(cv2.resize(picture, (width, height), interpolation=cv2.INTER_CUBIC))
    writer.release()
    return path


_COMPRESSED_S = 0.01
"""How long before its time a picture is there to be decoded, as one compressed by a camera is."""


def _sleep_until(when_s: float) -> None:
    time.sleep(max(0.0, when_s - time.perf_counter()))


class PacedClip:
    """A `Source` that is live: a clip, over and over, one picture every 1/rate_hz, each stamped
    when it is there, as a camera's are. It ends after `pictures`."""

    live = True
    frames_expected: int | None = None

    def __init__(self, clip: Path, rate_hz: float, pictures: int) -> None:
        self.rate_hz = rate_hz
        self.arrived_s: dict[int, float] = {}
        """When each picture was there, by index; the last few hundred."""
        self.decoding_s = 0.0
        """Of the last picture."""
        self._clip = clip
        self._capture = cv2.VideoCapture(str(clip))
        self._pictures = pictures
        self._index = -1
        self._due_s: float | None = None

    def read(self) -> Frame | None:
        """The next picture, when it is due."""
        if self._index + 1 >= self._pictures:
            return None
        if self._due_s is not None:
            self._due_s += 1 / self.rate_hz
            _sleep_until(self._due_s - _COMPRESSED_S)
        began_s = time.perf_counter()
        found, picture = self._capture.read()
        if not found:
            self._capture.release()
            self._capture = cv2.VideoCapture(str(self._clip))
            found, picture = self._capture.read()
        assert found
        now_s = time.perf_counter()
        self.decoding_s = now_s - began_s
        # A machine that was held up gets no pictures to make up for it: no camera does that.
        self._due_s = now_s if self._due_s is None or now_s > self._due_s + 0.5 else self._due_s
        _sleep_until(self._due_s)
        self._index += 1
        self.arrived_s[self._index] = time.perf_counter()
        self.arrived_s.pop(self._index - 500, None)
        return Frame(picture, time.monotonic(), self._index)  # type: ignore[arg-type]

    def close(self) -> None:
        """Close the clip."""
        self._capture.release()


class SilentLoudspeaker:
    """A `Stream` that takes samples at the pace of a real device and drops them."""

    def __init__(self, render: Callable[[int], Samples], rate_hz: int, block: int = 1200) -> None:
        self.alive = True
        self._thread = threading.Thread(
            target=self._run, args=(render, block, block / rate_hz), daemon=True
        )
        self._thread.start()

    def _run(self, render: Callable[[int], Samples], block: int, every_s: float) -> None:
        due_s = time.perf_counter()
        while self.alive:
            render(block)
            due_s = max(due_s + every_s, time.perf_counter() - 0.1)
            time.sleep(max(0.0, due_s - time.perf_counter()))

    def close(self) -> None:
        """Stop."""
        self.alive = False


@contextlib.contextmanager
def display() -> Iterator[None]:
    """A virtual display with nothing else on it."""
    read_end, write_end = os.pipe()
    server = subprocess.Popen(
        [
            "Xvfb",
            "-displayfd",
            str(write_end),
            "-screen",
            "0",
            "1920x1080x24",
            "-nolisten",
            "tcp",
            "-noreset",
        ],
        pass_fds=[write_end],
        stderr=subprocess.DEVNULL,
    )
    os.environ["DISPLAY"] = f":{os.read(read_end, 16).decode().strip()}"
    os.environ.setdefault("QT_QPA_PLATFORM", "xcb")
    try:
        yield
    finally:
        del os.environ["DISPLAY"]  # the process ends with it: a toolkit finds no second display
        server.terminate()
        server.wait()


@contextlib.contextmanager
def listeners(set_up: SetUp) -> Iterator[list[Listener]]:
    """Sound into a silent loudspeaker, and a second screen that is paired and reads every event.

    The screen is a process of its own, as a browser is.
    """
    say, zone, pairing = Words(), set_up.focus_zone, Pairing()
    view = PlanView(zone)
    texts = page_words(say)
    server = ShareServer(pairing, texts, page_settings(view, say, 70))
    screen = SecondScreen(server, view)
    tones = Tones(zone, print, rate_hz=lambda: 48000, open_stream=SilentLoudspeaker)
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.benchmarks.stage_set", server.host, pairing.code]
    )
    try:
        yield [screen, tones]
    finally:
        tones.close()
        screen.close()
        process.terminate()
        process.wait()


def _read_events(host: str, code: str) -> None:
    connection = http.client.HTTPConnection(host)
    connection.request(
        "POST", "/pair", f'{{"code": "{code}"}}',
        {"Content-Type": "application/json", "Origin": f"http://{host}"},
    )  # fmt: skip
    answer = connection.getresponse()
    answer.read()
    cookie = (answer.getheader("Set-Cookie") or "").split(";")[0]
    connection.request("GET", "/events", headers={"Cookie": cookie})
    events = connection.getresponse()
    assert events.status == 200, events.status
    while events.readline():
        pass


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt, ConnectionError):
        _read_events(*sys.argv[1:])
