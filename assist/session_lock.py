"""One run at a time in a session's folder.

`assist.system.locks` says how each operating system locks a folder.
"""

from __future__ import annotations

import os
import threading
from pathlib import Path

from assist.errors import UserError
from assist.system import here, locks

_guard = threading.Lock()
_held: dict[Path, tuple[int, int]] = {}
"""What this process holds: the system's handle, and how often. It may open its own session again.
"""


def acquire(folder: Path) -> None:
    """Hold the folder, or raise UserError when another process does."""
    key = folder.resolve()
    with _guard:
        if key in _held:
            handle, times = _held[key]
            _held[key] = (handle, times + 1)
            return
        try:
            handle = locks.open_for_lock(here(), key)
        except OSError as error:
            raise UserError(
                f"session folder {folder} cannot be written to: {error.strerror}"
            ) from error
        if not locks.try_lock(here(), handle):
            os.close(handle)
            raise UserError(
                f"session folder {folder} is in use by another run: end that one, or name another "
                "folder"
            )
        _held[key] = (handle, 1)


def release(folder: Path) -> None:
    """Let go; nothing happens when it is not held."""
    key = folder.resolve()
    with _guard:
        if key not in _held:
            return
        handle, times = _held[key]
        if times > 1:
            _held[key] = (handle, times - 1)
            return
        del _held[key]
        os.close(handle)


def renew(folder: Path) -> None:
    """Hold a folder that was deleted and made again; what is held now is the deleted one."""
    key = folder.resolve()
    with _guard:
        if key not in _held:
            return
        handle, times = _held[key]
        try:
            new = locks.open_for_lock(here(), key)
        except OSError:
            return
        if locks.try_lock(here(), new):
            _held[key] = (new, times)
            os.close(handle)
        else:
            os.close(new)
