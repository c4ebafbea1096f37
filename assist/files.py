"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from assist.errors import UserError


def write_whole(path: Path, content: bytes) -> None:
    """Write beside the target, then replace it, so that no reader sees half a file."""
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise UserError(f"cannot write in {path.parent}: {error.strerror}") from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(_usual_mode())
        Path(temporary).replace(path)
    except OSError as error:
        Path(temporary).unlink(missing_ok=True)
        raise UserError(f"cannot write {path}: {error.strerror}") from error


def _usual_mode() -> int:
    """The permissions that a file made in the ordinary way would have."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
