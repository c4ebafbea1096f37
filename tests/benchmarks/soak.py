"""A long live run, for growing memory and drifting latency: `python -m tests.benchmarks.soak`.

The shipped clip over and over at a camera's pace, with sound and a second screen, and a window
on a virtual display where there is Xvfb. One line a minute. Ends with exit code 1 if memory grew by
more than 10 MB from the first quarter after the warm-up to the last. `--minutes 60` is the real
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

import numpy as np

from assist import demo
from assist.assistant import Moment
from assist.countdown import CountdownState
from assist.listeners import Listeners
from assist.live import LiveOptions, LiveRun
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.set_up import load
from tests.benchmarks import stage_set
from tests.benchmarks.tables import keep, machine, table
from tests.benchmarks.timed_run import memory

MOST_GROWTH_MB = 10.0
_KEPT_FROM_MINUTES = 10.0


_Row = tuple[float, int, int, float, float, float]
"""Minutes; pictures told; pictures left out; median and 95th percentile of the latency, ms;
memory, MB."""


class _Diary:
    """A listener that writes a row whenever `every_s` have passed: it must not grow itself."""

    def __init__(self, source: stage_set.PacedClip, every_s: float) -> None:
        self.rows: list[_Row] = []
        self._source = source
        self._every_s = every_s
        self._began_s = self._since_s = time.perf_counter()
        self._latency_ms: list[float] = []
        self._memory_mb: list[float] = []
        self._first = self._last = -1

    def hear(self, moment: Moment, countdown: CountdownState | None) -> None:
        index, now_s = moment.frame.index, time.perf_counter()
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
        self.rows.append((
            (now_s - self._began_s) / 60, told, self._last - self._first - told,
            float(median), float(high), statistics.median(self._memory_mb or [memory().now_mb]),
        ))  # fmt: skip
        print(" ".join(cells(self.rows[-1])), flush=True)
        self._latency_ms.clear()
        self._memory_mb.clear()
        self._first, self._since_s = self._last, now_s

    def close(self) -> None:
        pass


def cells(row: _Row) -> list[str]:
    """A row as text."""
    minutes, told, left_out, median, high, used = row
    return [f"{minutes:.1f}", str(told), str(left_out), f"{median:.1f}", f"{high:.1f}",
            f"{used:.1f}"]  # fmt: skip


def growth(rows: list[_Row], warm_up_minutes: float) -> float:
    """MB from the median of the first quarter after the warm-up to that of the last."""
    settled = [row for row in rows if row[0] > warm_up_minutes]
    if len(settled) < 2:
        sys.exit("the run was too short to tell")
    quarter = max(1, len(settled) // 4)
    begun_mb, ended_mb = (
        statistics.median(row[-1] for row in part)
        for part in (settled[:quarter], settled[-quarter:])
    )
    return ended_mb - begun_mb


def report(rows: list[_Row], options: argparse.Namespace, window: bool, growth_mb: float) -> str:
    """The result as text."""
    return (
        f"# A long live run ({machine()})\n\n"
        f"The shipped clip at {options.rate:.0f} pictures a second with "
        f"{'window, ' if window else ''}sound and a second screen. Memory after the warm-up of "
        f"{options.warm_up:g} minutes grew by {growth_mb:+.1f} MB (medians of the first and the "
        "last quarter). Latency is from a picture's arrival to its guidance told; other load on "
        "the machine counts in it.\n\n"
        + table(
            ["minutes", "pictures", "left out", "latency median, ms", "95th, ms", "memory, MB"],
            [cells(row) for row in rows],
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
    samples = demo.sample_folder()
    set_up = load(samples / demo.SET_UP)
    source = stage_set.PacedClip(samples / demo.CLIP, options.rate, sys.maxsize)
    window = shutil.which("Xvfb") is not None
    with contextlib.ExitStack() as stack:
        if window:
            stack.enter_context(stage_set.display())
        ears = stack.enter_context(stage_set.listeners(set_up))
        detector = stack.enter_context(MediaPipePoseDetector())
        diary = _Diary(source, options.every)
        run = LiveRun(
            set_up, source, detector, LiveOptions(window=window), listener=Listeners([*ears, diary])
        )
        timer = threading.Timer(60 * options.minutes, run.stop)
        timer.daemon = True
        timer.start()
        run.run()
    growth_mb = growth(diary.rows, options.warm_up)
    text = report(diary.rows, options, window, growth_mb)
    if options.minutes >= _KEPT_FROM_MINUTES:
        keep("soak", text)
    else:
        print(text)
    if growth_mb > MOST_GROWTH_MB:
        sys.exit(f"memory grew by {growth_mb:.1f} MB")


if __name__ == "__main__":
    main()
