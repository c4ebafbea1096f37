"""Pictures checked beside a running feed, each as soon as it is there, in a process of its own.

The run must lose neither pictures nor time: the process has the lowest priority, a pose network of
its own, and one picture at a time. It may crash over a damaged file; then it is started anew for
the next one.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from queue import Queue
from typing import IO

from assist.base.closing import Closing
from assist.base.reading import parse_json
from assist.base.system import here, processes
from assist.review.checked import CheckedPicture
from assist.session.folder import Attempt
from assist.setup.set_up import SetUp, from_values

_PACKAGES = Path(__file__).resolve().parents[2]
# Run with `-c`, Python looks for modules in the current folder first, where anything may lie.
_START = """
import sys
sys.path[:] = [place for place in sys.path if place]
if {packages!r} not in sys.path:
    sys.path.insert(0, {packages!r})
from assist.review import beside
beside.serve()
"""
_MARK = "assist-checked "
"""Begins each line that is meant for the parent: native libraries print what they like."""
_LAST_S = 20.0
"""How long the end of a run waits for pictures that are still being looked at."""


@dataclass(frozen=True, slots=True)
class Order:
    """A picture to be checked: its file, and the line of the record that it belongs to."""

    picture: Path
    attempt: Attempt


@dataclass(frozen=True, slots=True)
class CheckedBeside:
    """What came of it; None where the process ended over it."""

    attempt: int
    checked: CheckedPicture | None


class CheckBeside(Closing):
    """Checks the pictures of one session one after another; `poll` tells what is known."""

    def __init__(self, set_up: SetUp, folder: Path) -> None:
        self._set_up = set_up
        self._folder = folder
        self._orders: Queue[Order | None] = Queue()
        self._found: deque[CheckedBeside] = deque()
        self._process: subprocess.Popen[str] | None = None
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="checks", daemon=True)

    def get_ready(self) -> None:
        """Have the network loaded, as a picture is about to come; returns at once."""
        if not self._thread.is_alive() and not self._closing:
            with contextlib.suppress(RuntimeError):  # it has ended already
                self._thread.start()

    def check(self, order: Order) -> None:
        """Have a picture checked; returns at once."""
        self.get_ready()
        self._orders.put(order)

    def poll(self) -> list[CheckedBeside]:
        """What has been found since the last time."""
        found = []
        while self._found:
            found.append(self._found.popleft())
        return found

    def finish(self) -> list[CheckedBeside]:
        """What is found of all that was ordered, waited for within reason; nothing after it."""
        self._orders.put(None)
        if self._thread.is_alive():
            self._thread.join(_LAST_S)
        self.close()
        return self.poll()

    def close(self) -> None:
        """End the process; safe to call twice."""
        self._closing = True
        self._orders.put(None)
        process, self._process = self._process, None
        if process is not None:
            processes.end(here(), process)

    def _run(self) -> None:
        self._start()  # the network is ready before the first picture is
        while (order := self._orders.get()) is not None:
            if self._closing:
                return
            self._found.append(CheckedBeside(order.attempt.attempt, self._checked(order)))

    def _start(self) -> subprocess.Popen[str] | None:
        try:
            process = subprocess.Popen(
                [sys.executable, "-c", _START.format(packages=str(_PACKAGES))],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
                **processes.group_of_its_own(here()),
            )
        except OSError:
            return None
        self._process = process
        if self._closing:  # closed while it was starting
            processes.end(here(), process)
        return process

    def _checked(self, order: Order) -> CheckedPicture | None:
        process = self._process
        if process is None or process.poll() is not None:
            process = self._start()
        if process is None or process.stdin is None or process.stdout is None:
            return None
        with contextlib.suppress(OSError, ValueError):
            process.stdin.write(_line(order, self._folder, self._set_up) + "\n")
            process.stdin.flush()
            return _answer(process.stdout)
        return None


def _answer(lines: IO[str]) -> CheckedPicture | None:
    for line in lines:
        if line.startswith(_MARK):
            return CheckedPicture.model_validate_json(line.removeprefix(_MARK))
    return None


def _line(order: Order, folder: Path, set_up: SetUp) -> str:
    """An order as it goes to the process."""
    return json.dumps(
        {
            "picture": str(order.picture),
            "folder": str(folder),
            "set_up": set_up.model_dump(mode="json", exclude_none=True),
            "attempt": order.attempt.model_dump(mode="json"),
        }
    )


def serve() -> None:
    """The process: a picture a line on standard input, what was found a line on standard output."""
    processes.give_way()
    # Here, as the run that imports this needs neither.
    from assist.pose.mediapipe_backend import MediaPipePoseDetector  # noqa: PLC0415
    from assist.review.examiner import Examiner  # noqa: PLC0415
    from assist.review.feed_pictures import FeedPictures  # noqa: PLC0415

    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    with MediaPipePoseDetector(stills=True) as detector:
        for line in sys.stdin:
            order = parse_json(line.encode())
            attempt = Attempt.model_validate(order["attempt"])
            examiner = Examiner(
                detector,
                from_values(order["set_up"]),
                feed=FeedPictures([attempt], Path(order["folder"])),
            )
            checked = examiner.examine(Path(order["picture"])).checked
            out.write(_MARK + checked.model_dump_json() + "\n")
            out.flush()
