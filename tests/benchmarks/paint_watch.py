"""When pixels reach the display, as the X server itself tells it.

`python -m tests.benchmarks.paint_watch` prints `time.perf_counter()` of everything that is painted
on a display that shows nothing else, until its standard input ends. The call that shows a picture
returns a millisecond or two later, having waited for keys.
"""

from __future__ import annotations

import subprocess
import sys
import threading
import time

from tests.benchmarks.tables import ROOT


class PaintWatch:
    """Watches the display from a process of its own; `stop` gives the times."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", __name__],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip

    def stop(self) -> list[float]:
        """`time.perf_counter()` of each painting, in order."""
        out, _ = self._process.communicate()
        return [float(line) for line in out.split()]


def _watch() -> None:
    from Xlib.display import Display
    from Xlib.ext import damage

    display = Display()
    display.damage_query_version()
    # The toolkit may make its window anew while it is set up; the root tells of all there are.
    display.screen().root.damage_create(damage.DamageReportRawRectangles)
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
    _watch()
