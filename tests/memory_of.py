"""Runs a piece of Python in a process of its own and tells what it said and the memory it took."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
_TAIL = """
with open("/proc/self/status") as status:
    peak = next(line for line in status if line.startswith("VmHWM"))
print("PEAK", int(peak.split()[1]) // 1024)
"""


@dataclass(frozen=True)
class Ran:
    """What a piece of Python printed, and its largest resident memory, megabytes."""

    said: str
    peak_mb: int


def ran(code: str, *arguments: object, seconds: float = 120.0) -> Ran:
    """Run it; `code` may read `sys.argv`. Raises when it fails or takes longer."""
    done = subprocess.run(
        [sys.executable, "-c", f"import sys\n{code}\n{_TAIL}", *map(str, arguments)],
        capture_output=True, text=True, errors="replace", timeout=seconds, cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    said, _, peak = done.stdout.rpartition("PEAK ")
    return Ran(said, int(peak))
