"""A coverage-guided run of the fuzz targets, by hand: `python -m tests.fuzz.by_hand TARGET ...`.

Needs atheris (`pip install atheris`; Linux, with the Python version of one of its wheels). Each
target runs in a process of its own for so many cases or seconds, with libFuzzer's limits on memory
and on the time of one case; a finding ends it and leaves its input in the folder given. The last
line of each is `target: cases, seconds, result`.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path

MEMORY_MB = 1000
CASE_S = 10
"""Of processor time: on a busy machine a case may be kept waiting much longer."""
_RUNNER = """
import sys, time, atheris
with atheris.instrument_imports(include={packages!r}):
    from tests.fuzz.targets import TARGETS
target = TARGETS[{name!r}]
def run(data):
    began_s = time.process_time()
    target.run(data)
    assert time.process_time() - began_s < {case_s}, "a case that takes too long"
atheris.Setup(sys.argv, run)
atheris.Fuzz()
"""
_PACKAGES = ["assist", "optics"]


def main() -> int:
    """Run the targets named, or all; exit code 1 when any found something."""
    from tests.fuzz.targets import TARGETS

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("targets", nargs="*", default=list(TARGETS))
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seconds", type=int, default=600, help="at most, for each target")
    parser.add_argument("--folder", type=Path, default=Path("fuzz-output"))
    chosen = parser.parse_args()
    bad = 0
    for name in chosen.targets:
        corpus = chosen.folder / name
        corpus.mkdir(parents=True, exist_ok=True)
        for number, seed in enumerate(TARGETS[name].seeds()):
            (corpus / f"seed-{number:02d}").write_bytes(seed)
        limits = [
            f"-runs={chosen.cases}", f"-max_total_time={chosen.seconds}",
            f"-rss_limit_mb={MEMORY_MB}", f"-timeout={60 * CASE_S}",
            f"-max_len={TARGETS[name].most}", f"-artifact_prefix={corpus}-",
            "-print_final_stats=1",
        ]  # fmt: skip
        began_s = time.monotonic()
        runner = _RUNNER.format(name=name, packages=_PACKAGES, case_s=CASE_S)
        done = subprocess.run(
            [sys.executable, "-c", runner, str(corpus), *limits],
            capture_output=True, text=True, errors="replace", check=False,
        )  # fmt: skip
        (chosen.folder / f"{name}.log").write_text(done.stdout + done.stderr)
        figures = dict(
            line.removeprefix("stat::").split(":", 1)
            for line in done.stderr.splitlines()
            if line.startswith("stat::")
        )
        cases = figures.get("number_of_executed_units", "?").strip()
        peak = figures.get("peak_rss_mb", "?").strip()
        result = "clean" if done.returncode == 0 else f"FOUND, see {chosen.folder / name}.log"
        bad += done.returncode != 0
        print(
            f"{name}: {cases} cases, {time.monotonic() - began_s:.0f} s, peak {peak} MB, {result}",
            flush=True,
        )
    return min(bad, 1)


if __name__ == "__main__":
    sys.exit(main())
