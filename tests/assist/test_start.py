"""An interrupt while the libraries are loaded: one quiet end, whatever is being loaded."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import tomlkit

from assist.base.errors import INTERRUPTED
from assist.run import demo

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
ROOT = Path(__file__).parents[2]
AT_LIBRARY = """
import os, runpy, signal, sys
library = sys.argv.pop(1)
signal.signal(signal.SIGINT, signal.default_int_handler)  # tests may run with it ignored

class Interrupting:
    def find_spec(self, name, path=None, target=None):
        if name == library:
            try:
                for _ in range(3):
                    os.kill(os.getpid(), signal.SIGINT)
            except KeyboardInterrupt as error:  # what compiled libraries make of it
                raise ImportError("initialization failed") from error

sys.meta_path.insert(0, Interrupting())
"""
CLIP, SET_UP = (demo.sample_folder() / name for name in (demo.CLIP, demo.SET_UP))


def script():
    """What an installed `assist` runs."""
    project = tomlkit.parse((ROOT / "pyproject.toml").read_text())["project"]
    module, _, function = project["scripts"]["assist"].partition(":")
    return f"from {module} import {function}; sys.exit({function}())"


def interrupted_at(library, *arguments, entry=None):
    entry = entry or script()
    return subprocess.run(
        [sys.executable, "-c", AT_LIBRARY + entry, library, *map(str, arguments)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("entry", [None, "runpy.run_module('assist', None, '__main__', True)"])
@pytest.mark.parametrize("library", ["assist.cli", "typer", "numpy", "assist.cli.commands"])
def test_an_interrupt_while_libraries_load_is_one_quiet_end(library, entry):
    ended = interrupted_at(library, "plan", "--help", entry=entry)
    assert (ended.returncode, ended.stdout, ended.stderr) == (INTERRUPTED, "", "")


def test_so_it_is_while_the_pose_network_loads():
    given = ("live", CLIP, "--set-up", SET_UP, "--no-window", "--timer", "none")
    ended = interrupted_at("mediapipe", *given)
    assert (ended.returncode, ended.stdout, ended.stderr) == (INTERRUPTED, "", "")
