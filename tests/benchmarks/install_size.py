"""Size and time of a fresh installation: `python -m tests.benchmarks.install_size`.

Makes an environment in a folder of its own, installs the program as the README says, runs the demo,
and tells what lies in it and what each large package is for. The time holds for packages that pip
has in its cache or near by; the line of a slow connection adds to it.
Writes tests/benchmarks/results/install_size.md.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import venv
from pathlib import Path

from tests.benchmarks.tables import ROOT, keep, machine, table

LARGE_MB = 5.0
"""Packages below this are added up."""

FOR = {
    "scipy": "least squares of the distance, normal and other distributions, filters in review",
    "opencv-python": "reads feeds and films, windows, drawing; with FFmpeg and Qt",
    "opencv-contrib-python": "mediapipe asks for it: the same `cv2`, its libraries twice",
    "ai-edge-litert": "runs the face networks",
    "mediapipe": "runs the pose network",
    "matplotlib": "plots in report and demo; the fonts of the guidance screen",
    "numpy": "all arrays",
    "fonttools": "matplotlib asks for it",
    "kiwisolver": "matplotlib asks for it",
    "pillow": "reads pictures and their tags, draws words",
    "pydantic-core": "checks set-up files and options",
    "pydantic": "checks set-up files and options",
    "pygments": "rich, for the command line's help, asks for it",
    "self-portrait-assist": "the program, with its networks and the shipped clip",
    "pip": "comes with the environment",
    "setuptools": "comes with the environment, where Python puts it in",
    "jax": "mediapipe 0.10.21 asks for it, nobody uses it",
    "jaxlib": "mediapipe 0.10.21 asks for it, nobody uses it",
}

_SIZES = """
import importlib.metadata as m, os, re, collections
size, seen = collections.Counter(), set()
for d in m.distributions():
    name = re.sub(r"[-_.]+", "-", d.metadata["Name"]).lower()
    for f in d.files or []:
        path = os.path.realpath(d.locate_file(f))
        if path in seen or not os.path.isfile(path):
            continue
        seen.add(path)
        about = os.stat(path)
        size[name, d.version] += getattr(about, "st_blocks", about.st_size / 512) * 512
for (name, version), bytes_ in size.items():
    print(name, version, round(bytes_))
"""


def folder_mb(folder: Path) -> float:
    """What a folder takes on the disk, in megabytes of 2**20 bytes, as `du -m` has it."""
    total = 0
    for path in folder.rglob("*"):
        if not path.is_symlink():
            about = path.stat()
            total += about.st_blocks * 512 if hasattr(about, "st_blocks") else about.st_size
    return total / 2**20


def run(*command: str | Path, cwd: Path) -> float:
    """Seconds that a command took. Raises CalledProcessError when it fails."""
    plain = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    began = time.perf_counter()
    subprocess.run(command, cwd=cwd, env=plain, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began


def main() -> None:
    """Install, measure, print and keep."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "environment"
        began = time.perf_counter()
        venv.create(folder, with_pip=True)
        programs = folder / ("Scripts" if os.name == "nt" else "bin")
        run(programs / "python", "-m", "pip", "install", "--quiet", ROOT, cwd=Path(place))
        installed_s = time.perf_counter() - began
        whole_mb = folder_mb(folder)
        demo_s = run(programs / "assist", "demo", "--no-window", cwd=Path(place))
        told = subprocess.run(
            [programs / "python", "-c", _SIZES], capture_output=True, text=True, check=True
        ).stdout
    rows, rest, others = [], 0.0, 0
    for line in sorted(told.splitlines(), key=lambda line: -int(line.split()[2])):
        name, version, size = line.split()
        if int(size) / 2**20 >= LARGE_MB:
            rows.append([name, version, f"{int(size) / 2**20:.0f}", FOR.get(name, "")])
        else:
            rest, others = rest + int(size) / 2**20, others + 1
    rows.append([f"{others} more", "", f"{rest:.0f}", ""])
    text = (
        f"`pip install .` in a new environment: {whole_mb:.0f} MB and {installed_s:.0f} s; "
        f"the demo without a window: {demo_s:.0f} s. {machine()}.\n\n"
        + table(("package", "release", "MB", "what for"), rows)
    )
    keep("install_size", text)


if __name__ == "__main__":
    sys.exit(main())
