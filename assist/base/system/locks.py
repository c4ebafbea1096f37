"""Locks on a folder, and its names put on the disk.

The lock is the operating system's own, so it ends with the process that holds it, however that
ends. Where folders themselves can be locked no file is made for it; on Windows a small one is.
"""

from __future__ import annotations

import errno
import importlib
import os
from pathlib import Path
from typing import Any

from assist.base.system import System

LOCK_FILE = ".lock"


def open_for_lock(system: System, folder: Path) -> int:
    """A handle to lock. Raises OSError when the folder cannot be used."""
    if system.posix:
        return os.open(folder, os.O_RDONLY)
    return os.open(folder / LOCK_FILE, os.O_RDWR | os.O_CREAT)


def try_lock(system: System, handle: int) -> bool:
    """Lock it, without waiting; False when another process holds it."""
    # Each of these modules is there on its own systems only.
    module: Any = importlib.import_module("fcntl" if system.posix else "msvcrt")
    try:
        if system.posix:
            module.flock(handle, module.LOCK_EX | module.LOCK_NB)
        else:
            module.locking(handle, module.LK_NBLCK, 1)
    except OSError as error:
        # Some network folders know no locks: better to run without than not at all.
        return error.errno in (errno.ENOLCK, errno.ENOTSUP, errno.EINVAL, errno.EBADF)
    return True


def sync_folder(system: System, folder: Path) -> None:
    """Put a new file's name on the disk too, where the system has a way to."""
    if not system.posix:
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
