"""A look at something that may hang or crash, in a process of its own with a time limit."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from assist.base.system import System, processes
from assist.base.words import _, current

MARK = "assist-probe "
"""Begins each line of a probe that is meant for the parent: native libraries print what they like.
"""
_PACKAGES = Path(__file__).resolve().parents[2]
# Run with `-c`, Python looks for modules in the current folder first, where anything may lie.
_START = """
import sys
sys.path[:] = [place for place in sys.path if place]
if {packages!r} not in sys.path:
    sys.path.insert(0, {packages!r})
from assist.check import probes
probes.run(sys.argv[1], sys.argv[2], sys.argv[3:])
"""
_LAST_WORDS = 200
Lacking = Literal[
    "", "package", "library", "device", "engine", "binding", "model", "device file", "permission"
]
"""What is not there, where a probe can tell: by this a finding chooses how to mend it."""


@dataclass(frozen=True, slots=True)
class ProbeResult:
    """What came of a probe.

    ended: "done", also where the answer is bad news; "late" at the time limit; "crashed" when the
        process was ended by something else than itself.
    values: what it told, all that it had told before a bad end included.
    problem: one line, in the language of whoever had it run; "" when it went well.
    lacks: what is missing, where that is the problem.
    """

    ended: Literal["done", "late", "crashed"]
    values: Mapping[str, Any] = field(default_factory=dict)
    problem: str = ""
    lacks: Lacking = ""


def look(system: System, probe: str, *arguments: str, limit_s: float) -> ProbeResult:
    """Run a probe of `assist.check.probes`; never waits longer than a little over the limit.

    What it says of a problem is in the language that holds here.
    """
    start = _START.format(packages=str(_PACKAGES))
    command = [sys.executable, "-c", start, probe, current().language, *arguments]
    return look_by(system, command, limit_s)


def look_by(system: System, command: list[str], limit_s: float) -> ProbeResult:
    """Run a command that prints a probe's lines."""
    # Files take the output: a pipe would stay open as long as any child of a hanging process lives.
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        try:
            process = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=err,
                **processes.group_of_its_own(system),
            )
        except OSError as error:
            return ProbeResult("crashed", {}, _("cannot be run: {why}", why=error.strerror))
        try:
            code: int | None = process.wait(limit_s)
        except subprocess.TimeoutExpired:
            code = None
        finally:
            processes.end(system, process)  # also what a finished probe may have left behind
        values = _told(out)
        if code is None:
            return ProbeResult(
                "late",
                values,
                _("no answer within {limit} s", limit=current().decimal(f"{limit_s:g}")),
            )
        if "problem" in values:
            problem = values["problem"] = without_names(str(values["problem"]))
            return ProbeResult("done", values, problem, values.pop("lacks", ""))
        if code != 0:
            words = _last_line(err) or _("ended with code {code}", code=code)
            return ProbeResult("crashed", values, without_names(words))
        return ProbeResult("done", values)


def without_names(text: str) -> str:
    """The text without the user's home folder and name, which error messages are full of."""
    home = str(Path.home())
    if len(home) > 1:
        text = text.replace(home, "~")
    name = Path.home().name
    return re.sub(rf"(?<=[/\\]){re.escape(name)}(?=[/\\])", "~", text) if name else text


def _told(out: Any) -> dict[str, Any]:
    out.seek(0)
    values: dict[str, Any] = {}
    for line in out.read().decode(errors="replace").splitlines():
        if line.startswith(MARK):
            try:
                values |= json.loads(line.removeprefix(MARK))
            except ValueError:  # cut short by the end of the process
                continue
    return values


def _last_line(err: Any) -> str:
    err.seek(0, os.SEEK_END)
    err.seek(max(0, err.tell() - 4096))
    lines = [line.strip() for line in err.read().decode(errors="replace").splitlines()]
    return next((line for line in reversed(lines) if line), "")[:_LAST_WORDS]
