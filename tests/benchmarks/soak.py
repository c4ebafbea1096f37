"""A long live run, for growing memory and drifting latency: `python -m tests.benchmarks.soak`.

The shipped clip over and over at a camera's pace, with sound and a second screen, and a window
on a virtual display where there is Xvfb. One line a minute. Ends with exit code 1 if memory grew by
more than 10 MB from the first quarter after the warm-up to the last, or, in a run of ten minutes or
more, if what is added to the network's own time grew by more than 2 ms. `--minutes 60` is the real
thing; from ten minutes on the result is kept.
"""

from __future__ import annotations

import argparse
import contextlib
import shutil
import statistics
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from assist.base.system import heaps, here
from assist.guidance.message import Message
from assist.output.listeners import Listeners
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from assist.run.live import LiveOptions, LiveRun
from assist.setup.set_up import load
from tests.benchmarks import stage_set
from tests.benchmarks.tables import keep, machine, table
from tests.benchmarks.timed_run import memory

MOST_GROWTH_MB = 10.0
MOST_DRIFT_MS = 2.0
_KEPT_FROM_MINUTES = 10.0


@dataclass(frozen=True)
class _Row:
    """What was seen since the row before."""

    minutes: float
    told: int
    left_out: int
    latency_ms: tuple[float, float]
    """Median and 95th percentile."""
    network_ms: float
    """Median."""
    memory_mb: float

    @property
    def added_ms(self) -> float:
        """What the median latency has over the network."""
        return self.latency_ms[0] - self.network_ms

    def cells(self) -> list[str]:
        """The row as text."""
        times = (*self.latency_ms, self.network_ms, self.added_ms, self.memory_mb)
        counts = (str(self.told), str(self.left_out))
        return [f"{self.minutes:.1f}", *counts, *(f"{value:.1f}" for value in times)]


class _TimedDetector(MediaPipePoseDetector):
    """The detector, with the network's own call timed; keeps the times since last asked.

    `timed_run`'s keeps every picture's, which in an hour is more than memory may grow here.
    """

    def __init__(self) -> None:
        super().__init__()
        self._spent_ms: list[float] = []
        detect = self._landmarker.detect_for_video

        def timed(*arguments: Any, **named: Any) -> Any:
            began_s = time.perf_counter()
            found = detect(*arguments, **named)
            self._spent_ms.append(1e3 * (time.perf_counter() - began_s))
            return found

        self._landmarker.detect_for_video = timed

    def take_ms(self) -> list[float]:
        """The times since the last call, milliseconds."""
        taken, self._spent_ms = self._spent_ms, []
        return taken


class _Diary:
    """A listener that writes a row whenever `every_s` have passed: it must not grow itself."""

    def __init__(
        self, source: stage_set.PacedClip, detector: _TimedDetector, every_s: float
    ) -> None:
        self.rows: list[_Row] = []
        self._detector = detector
        self._source = source
        self._every_s = every_s
        self._began_s = self._since_s = time.perf_counter()
        self._latency_ms: list[float] = []
        self._memory_mb: list[float] = []
        self._first = self._last = -1

    def hear(self, message: Message) -> None:
        index, now_s = message.moment.frame.index, time.perf_counter()
        if index == self._last:
            return
        self._last = index
        self._latency_ms.append(1e3 * (now_s - self._source.arrived_s[index]))
        if index % 25 == 0:
            self._memory_mb.append(memory().now_mb)
        if now_s - self._since_s >= self._every_s:
            self._write(now_s)

    def _write(self, now_s: float) -> None:
        told = len(self._latency_ms)
        median, high = np.percentile(self._latency_ms, [50, 95])
        row = _Row(
            minutes=(now_s - self._began_s) / 60,
            told=told,
            left_out=self._last - self._first - told,
            latency_ms=(float(median), float(high)),
            network_ms=statistics.median(self._detector.take_ms()),
            memory_mb=statistics.median(self._memory_mb or [memory().now_mb]),
        )
        self.rows.append(row)
        print(" ".join(row.cells()), flush=True)
        self._latency_ms.clear()
        self._memory_mb.clear()
        self._first, self._since_s = self._last, now_s

    def close(self) -> None:
        pass


def growth(rows: list[_Row], warm_up_minutes: float) -> tuple[float, float]:
    """MB, and ms added to the network's time, from the first quarter after the warm-up to the last.

    Of medians of the rows.
    """
    settled = [row for row in rows if row.minutes > warm_up_minutes]
    if len(settled) < 2:
        sys.exit("the run was too short to tell")
    quarter = max(1, len(settled) // 4)
    first, last = settled[:quarter], settled[-quarter:]

    def grown(value: Callable[[_Row], float]) -> float:
        return statistics.median(map(value, last)) - statistics.median(map(value, first))

    return grown(lambda row: row.memory_mb), grown(lambda row: row.added_ms)


def report(
    rows: list[_Row], options: argparse.Namespace, window: bool, growth_mb: float, drift_ms: float
) -> str:
    """The result as text."""
    return (
        f"# A long live run ({machine()})\n\n"
        f"The shipped clip at {options.rate:.0f} pictures a second with "
        f"{'window, ' if window else ''}sound and a second screen. Memory after the warm-up of "
        f"{options.warm_up:g} minutes grew by {growth_mb:+.1f} MB, and what the median latency "
        f"has over the network's own time by {drift_ms:+.1f} ms (medians of the first and the last "
        "quarter). Latency is from a picture's arrival to its guidance told; other load on the "
        "machine counts in it.\n\n"
        + table(
            [
                "minutes",
                "pictures",
                "left out",
                "latency median, ms",
                "95th, ms",
                "network, ms",
                "over it, ms",
                "memory, MB",
            ],
            [row.cells() for row in rows],
        )
    )


def main() -> None:
    """Run, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--warm-up", type=float, default=2.0, help="minutes that do not count")
    parser.add_argument("--every", type=float, default=60.0, help="seconds between two lines")
    parser.add_argument("--rate", type=float, default=25.0, help="pictures a second")
    options = parser.parse_args()
    heaps.hold_few(here())  # as the command line does
    samples = demo.sample_folder()
    set_up = load(samples / demo.SET_UP)
    source = stage_set.PacedClip(samples / demo.CLIP, options.rate, sys.maxsize)
    window = shutil.which("Xvfb") is not None
    with contextlib.ExitStack() as stack:
        if window:
            stack.enter_context(stage_set.display())
        ears = stack.enter_context(stage_set.listeners(set_up))
        detector = stack.enter_context(_TimedDetector())
        diary = _Diary(source, detector, options.every)
        run = LiveRun(
            set_up, source, detector, LiveOptions(window=window), listener=Listeners([*ears, diary])
        )
        timer = threading.Timer(60 * options.minutes, run.stop)
        timer.daemon = True
        timer.start()
        run.run()
    growth_mb, drift_ms = growth(diary.rows, options.warm_up)
    text = report(diary.rows, options, window, growth_mb, drift_ms)
    if options.minutes >= _KEPT_FROM_MINUTES:
        keep("soak", text)
    else:
        print(text)
    if growth_mb > MOST_GROWTH_MB:
        sys.exit(f"memory grew by {growth_mb:.1f} MB")
    if options.minutes >= _KEPT_FROM_MINUTES and drift_ms > MOST_DRIFT_MS:
        sys.exit(f"latency grew by {drift_ms:.1f} ms")


if __name__ == "__main__":
    main()
