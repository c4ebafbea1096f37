"""The pose backend under the newest mediapipe, with the bundle built under the pinned one.

Needs an environment of its own (about 650 MB), so it runs only where it is asked for, as CI does:
python -m pytest -m slow tests/test_second_environment.py
"""

import os
import subprocess
import sys
import venv
from importlib import metadata
from pathlib import Path

import pytest

from assist.pose.bundle import load_bundle
from assist.run import demo
from assist.session.folder import read_record

pytestmark = pytest.mark.slow
ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def newest(tmp_path_factory):
    """An environment with the newest mediapipe and what the program needs besides."""
    folder = tmp_path_factory.mktemp("newest")
    venv.create(folder, with_pip=True)
    python = folder / ("Scripts" if os.name == "nt" else "bin") / "python"
    others = [
        "numpy", "scipy", "pydantic", "typer", "tomlkit", "platformdirs", "matplotlib", "pillow",
        "jinja2", "rich",
    ]  # fmt: skip
    subprocess.run(
        [python, "-m", "pip", "install", "--quiet", "mediapipe>=1.0", *others], check=True
    )
    return python


NO_FACES = (
    "from assist.pose.mediapipe_face import MediaPipeFaceFinder as finder\n"
    "finder.available = staticmethod(lambda: False)\n"
)
"""The newest library has no finder of faces that ours could use: it tells by the body alone."""


def run(python, *arguments, before="", **environment):
    return subprocess.run(
        [python, "-c", before + "from assist.cli import main; main()", *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_old_bundle_under_the_newest_library(newest, tmp_path):
    samples = demo.sample_folder()
    common = ("live", samples / demo.CLIP, "--set-up", samples / demo.SET_UP, "--no-window",
              "--timer", f"{demo.TIMER_S:g}s")  # fmt: skip
    bundle = tmp_path / "pose.task"
    bundle.write_bytes(load_bundle())
    places = []
    for python, more in ((newest, ("--pose-model", bundle)), (sys.executable, ())):
        folder = tmp_path / str(len(places))
        done = run(python, *common, "--session", folder, *more, before=NO_FACES)
        assert done.returncode == 0, done.stderr
        places.append(read_record(folder)[0].distance_m)
    assert places[0] == pytest.approx(places[1], rel=0.01)


def test_newest_library_without_a_bundle_is_one_clear_line(newest, tmp_path):
    samples = demo.sample_folder()
    done = run(newest, "live", samples / demo.CLIP, "--set-up", samples / demo.SET_UP,
               "--no-window", XDG_CACHE_HOME=str(tmp_path))  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "--pose-model" in done.stderr
    assert metadata.version("mediapipe") in done.stderr
