"""Where the program can be installed from wheels alone: `python -m tests.benchmarks.platforms`.

Asks the package index' metadata for systems and Pythons that are not at hand; nothing is installed.
Needs `uv` on the path, whose resolver reckons with another system's markers and tags, and the
index that it is set to. Writes tests/benchmarks/results/platforms.md.

It is not a test that what was resolved runs there.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys

from tests.benchmarks.tables import ROOT, keep, table

SYSTEMS = {
    "Linux, x86-64": "x86_64-manylinux_2_28",
    "Linux, ARM": "aarch64-manylinux_2_28",
    "Windows, x86-64": "x86_64-pc-windows-msvc",
    "Windows, ARM": "aarch64-pc-windows-msvc",
    "macOS, Apple silicon": "aarch64-apple-darwin",
    "macOS, Intel": "x86_64-apple-darwin",
}
PYTHONS = ("3.10", "3.11", "3.12", "3.13", "3.14")
EXTRAS = ("sound", "share", "raw", "tether")
_TOLD = ("mediapipe", "ai-edge-litert", "numpy")


def resolved(target: str, python: str, extra: str | None = None) -> tuple[bool, str]:
    """Whether all is to be had as wheels, and the whole answer."""
    done = subprocess.run(
        ["uv", "pip", "compile", "--only-binary", ":all:", "--no-header", "--no-annotate",
         "--python-platform", target, "--python-version", python,
         *(["--extra", extra] if extra else []), "pyproject.toml"],
        cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, "UV_PYTHON_DOWNLOADS": "never"},
    )  # fmt: skip
    return done.returncode == 0, done.stdout if done.returncode == 0 else done.stderr


def lacking(answer: str) -> str:
    """Which package the resolver says has no wheel there."""
    names = re.findall(r"Wheels are (?:available|required) for `([\w.-]+)`", answer)
    return ", ".join(dict.fromkeys(names)) or "see the resolver's words above"


def main() -> int:
    """Ask, print and keep."""
    if shutil.which("uv") is None:
        print("no uv on the path: pip install uv", file=sys.stderr)
        return 2
    rows = []
    for system, target in SYSTEMS.items():
        for python in PYTHONS:
            fine, answer = resolved(target, python)
            if not fine:
                print(answer, file=sys.stderr)
                rows.append([system, python, f"no: {lacking(answer)}", "", ""])
                continue
            pins = dict(re.findall(r"^([\w.-]+)==(\S+)", answer, re.MULTILINE))
            told = ", ".join(f"{name} {pins[name]}" for name in _TOLD if name in pins)
            extras = [extra for extra in EXTRAS if resolved(target, python, extra)[0]]
            rows.append([system, python, "yes", told, ", ".join(extras)])
    head = ("system", "Python", "wheels for all", "among them", "extras that have wheels too")
    keep(
        "platforms",
        f"By the package index' metadata; nothing was run there.\n\n{table(head, rows)}",
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
