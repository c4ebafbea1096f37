"""How long the program takes to start: `python -m tests.benchmarks.start_time`.

Processor time, user and system, of the whole process; the least of several runs, as anything above
it is another process's. Writes tests/benchmarks/results/start_time.md.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time

from tests.benchmarks.tables import ROOT, keep, machine, table

RUNS = 7
LINES = (
    "--version",
    "--help",
    "plan --help",
    "plan --lens 50mm --aperture f/5.6 --focus 3m",
    "live --help",
    "sessions list",
)


def seconds(line: str) -> tuple[float, float]:
    """Least processor time and least time on the clock of `assist` with these words."""
    used, took = [], []
    for _ in range(RUNS):
        before, began = os.times(), time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "assist", *line.split()],
            cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False,
        )  # fmt: skip
        after = os.times()
        took.append(time.perf_counter() - began)
        used.append(
            after.children_user + after.children_system
            - before.children_user - before.children_system
        )  # fmt: skip
    return min(used), min(took)


def main() -> None:
    """Measure, print and keep."""
    rows = []
    for line in LINES:
        used_s, took_s = seconds(line)
        rows.append([f"`assist {line}`", f"{used_s:.2f} s", f"{took_s:.2f} s"])
    head = ("command", "processor time", "time on the clock")
    keep("start_time", f"Least of {RUNS} runs; {machine()}.\n\n{table(head, rows)}")


if __name__ == "__main__":
    main()
