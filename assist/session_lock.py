"""One run at a time in a session's folder.

The lock is the operating system's own, so it ends with the process that holds it, however that
ends. Where folders themselves can be locked no file is made for it; on Windows a small one is.
"""

from __future__ import annotations

import errno
import os
import sys
import threading
from pathlib import Path

from assist.errors import UserError

LOCK_FILE = ".lock"

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
            handle = _open(key)
        except OSError as error:
            raise UserError(
                f"session folder {folder} cannot be written to: {error.strerror}"
            ) from error
        if not _try(handle):
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
            new = _open(key)
        except OSError:
            return
        if _try(new):
            _held[key] = (new, times)
            os.close(handle)
        else:
            os.close(new)


def _open(folder: Path) -> int:
    if sys.platform == "win32":
        return os.open(folder / LOCK_FILE, os.O_RDWR | os.O_CREAT)
    return os.open(folder, os.O_RDONLY)


def _try(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        # Some network folders know no locks: better to run without than not at all.
        return error.errno in (errno.ENOLCK, errno.ENOTSUP, errno.EINVAL, errno.EBADF)
    return True
