"""When a window's pixels reach the display, as the X server itself tells it.

`python -m tests.benchmarks.paint_watch TITLE` prints `time.perf_counter()` for every part of the
window that is painted, until its standard input ends. The call that shows a picture returns a
millisecond or two later, having waited for keys.
"""

from __future__ import annotations

import subprocess
import sys
import threading
import time

from tests.benchmarks.tables import ROOT


class PaintWatch:
    """Watches the window of that title from a process of its own; `stop` gives the times."""

    def __init__(self, title: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", __name__, title],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip

    def stop(self) -> list[float]:
        """`time.perf_counter()` of each painting, in order."""
        out, _ = self._process.communicate()
        return [float(line) for line in out.split()]


def _watch(title: str) -> None:
    from Xlib import error
    from Xlib.display import Display
    from Xlib.ext import damage

    display = Display()
    display.damage_query_version()

    def find(window):
        try:
            if title in str(window.get_wm_name()):
                return window
            children = window.query_tree().children
        except error.BadWindow:  # the toolkit makes and drops windows while it sets up
            return None
        return next((found for child in children if (found := find(child))), None)

    while (window := find(display.screen().root)) is None:
        time.sleep(0.05)
    window.damage_create(damage.DamageReportRawRectangles)
    display.sync()
    painted_s: list[float] = []

    def listen() -> None:
        while True:
            display.next_event()
            painted_s.append(time.perf_counter())

    threading.Thread(target=listen, daemon=True).start()
    sys.stdin.read()
    print("\n".join(map(str, painted_s)), flush=True)


if __name__ == "__main__":
    _watch(sys.argv[1])
