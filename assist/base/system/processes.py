"""Programs run by this one: their arguments, and their end with all that they started."""

from __future__ import annotations

import contextlib
import os
import shlex
import signal
import subprocess
from typing import Any

from assist.base.system import System

_GRACE_S = 1.0


def split(system: System, text: str) -> tuple[str, ...]:
    """The arguments in a line, quoted as the system's users quote. No shell ever sees them.

    Raises ValueError when a quote is left open.
    """
    arguments = shlex.split(text, posix=system.posix)  # on Windows a backslash is part of a path
    if not system.posix:
        arguments = [argument.strip('"') for argument in arguments]
    return tuple(arguments)


def group_of_its_own(system: System) -> dict[str, Any]:
    """Further arguments of `Popen` for a process that `end` can end with all that it started."""
    return {"start_new_session": True} if system.posix else {}


def end(system: System, process: subprocess.Popen[Any]) -> None:
    """End a process with all that it started, first politely. Never waits long."""
    if not system.posix:
        if process.poll() is None:
            _end_tree(process)
        return
    for number in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, number)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(_GRACE_S)


def interrupt(system: System, process: subprocess.Popen[Any]) -> None:
    """Ask a process to end as a key press would, so that it can finish its files; returns at once.

    Where the system has no such signal for another's process, it is ended.
    """
    if system.posix:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            process.send_signal(signal.SIGINT)
    else:
        end(system, process)


def _end_tree(process: subprocess.Popen[Any]) -> None:
    """Windows has no process groups to signal; its own program ends a process and its children."""
    with contextlib.suppress(OSError, subprocess.TimeoutExpired):
        subprocess.run(
            ["taskkill", "/T", "/F", "/PID", str(process.pid)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=5,
            check=False,
        )
    process.kill()
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(_GRACE_S)


def give_way() -> None:
    """Let this process run only where others leave time, if the system knows such a thing."""
    with contextlib.suppress(AttributeError, OSError):
        os.nice(15)
