"""That memory does not grow in a live run; `python -m tests.benchmarks.soak` is the long one."""

import subprocess
import sys

import pytest


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_memory_does_not_grow_in_a_live_run():
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.soak", "--minutes", "3", "--warm-up", "1",
         "--every", "15", "--rate", "30"],
        capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
