"""What the page starts: a run, a check of pictures, a report; each the program itself in a process.

A run that crashes or hangs takes nothing of the page with it. Its arguments are made here from
checked values; no shell and no text of the page's own ever runs.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Mapping, Sequence
from pathlib import Path

from assist.base.closing import Closing
from assist.base.system import here, processes

_PACKAGES = Path(__file__).resolve().parents[2]
# Run with `-c`, Python looks for modules in the current folder first, where anything may lie.
_START = """
import sys
sys.path[:] = [place for place in sys.path if place]
if {packages!r} not in sys.path:
    sys.path.insert(0, {packages!r})
from assist.start import main
main()
"""
_LINK = re.compile(r"http://\S+/#\S+")
_MOST_LINES = 200


def _without(environment: Mapping[str, str], name: str) -> dict[str, str]:
    return {key: value for key, value in environment.items() if key != name}


class Job(Closing):
    """One process of the program: its lines, the link it tells of, and what became of it.

    language: in which it speaks.
    """

    def __init__(self, arguments: Sequence[str], language: str) -> None:
        self._lines: deque[str] = deque(maxlen=_MOST_LINES)
        self._link = ""
        self._process = subprocess.Popen(
            [sys.executable, "-u", "-c", _START.format(packages=str(_PACKAGES)), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            errors="replace",
            env={**_without(os.environ, "LC_ALL"), "LC_MESSAGES": language},
            **processes.group_of_its_own(here()),
        )
        self._thread = threading.Thread(target=self._listen, name="job", daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            found = _LINK.search(line)
            if found:
                self._link = found[0]
            else:
                # Progress is drawn over and over in one line: what stands last counts.
                self._lines.append(line.rstrip("\n").rsplit("\r", 1)[-1][:400])

    @property
    def code(self) -> int | None:
        """How it ended; None while it is at work."""
        return self._process.poll()

    @property
    def link(self) -> str:
        """The address of its second screen, with the pairing code; "" while there is none."""
        return self._link if self.code is None else ""

    @property
    def lines(self) -> list[str]:
        """What it has said so far."""
        return [line for line in self._lines if line.strip()]

    def wait(self, seconds: float) -> None:
        """Wait for its end, no longer than that."""
        try:
            self._process.wait(seconds)
        except subprocess.TimeoutExpired:
            return
        self._thread.join(1.0)

    def ask_to_end(self) -> None:
        """Have it end as an interrupt does: record and video are finished."""
        processes.interrupt(here(), self._process)

    def close(self) -> None:
        """End it with all that it started; safe to call twice."""
        if self.code is None:
            processes.end(here(), self._process)
