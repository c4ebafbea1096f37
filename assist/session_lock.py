"""One run at a time in a session's folder.

The lock is the operating system's own on a small file, so it ends with the process that holds it,
however that ends.
"""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path
from typing import IO

from assist.errors import UserError

LOCK_FILE = ".lock"

_guard = threading.Lock()
_held: dict[Path, tuple[IO[bytes], int]] = {}
"""What this process holds, and how often: the same process may open its own session again."""


def acquire(folder: Path) -> None:
    """Hold the folder, or raise UserError when another process does."""
    key = folder.resolve()
    with _guard:
        if key in _held:
            file, times = _held[key]
            _held[key] = (file, times + 1)
            return
        try:
            file = (key / LOCK_FILE).open("ab")
        except OSError as error:
            raise UserError(
                f"session folder {folder} cannot be written to: {error.strerror}"
            ) from error
        if not _try(file):
            file.close()
            raise UserError(
                f"session folder {folder} is in use by another run: end that one, or name another "
                "folder"
            )
        _held[key] = (file, 1)


def release(folder: Path) -> None:
    """Let go; nothing happens when it is not held."""
    key = folder.resolve()
    with _guard:
        if key not in _held:
            return
        file, times = _held[key]
        if times > 1:
            _held[key] = (file, times - 1)
            return
        del _held[key]
        file.close()


def _try(file: IO[bytes]) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        # Some network folders know no locks: better to run without than not at all.
        return error.errno not in (11, 13, 35) and os.name == "posix"
    return True
