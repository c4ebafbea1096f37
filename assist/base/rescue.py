"""A second place for what a session's folder does not take: full, read-only, gone."""

from __future__ import annotations

import contextlib
import tempfile
from pathlib import Path

import platformdirs

from assist.base.errors import UserError
from assist.base.files import write_whole
from assist.base.words import _


def keep(name: str, content: bytes, session: Path) -> Path:
    """Write it elsewhere, whole, over nothing that is there; the file made.

    First in the user's data folder, under the session's name, then in a new folder for temporary
    files. Raises UserError when neither takes it.
    """
    with contextlib.suppress(UserError, OSError):
        folder = platformdirs.user_data_path("self-portrait-assist") / "rescued"
        folder /= session.resolve().name
        folder.mkdir(parents=True, exist_ok=True)
        return write_new(folder / name, content)
    try:
        folder = Path(tempfile.mkdtemp(prefix="self-portrait-assist-"))
    except OSError as error:
        raise UserError(
            _("cannot write {name} anywhere: {why}", name=name, why=error.strerror)
        ) from error
    try:
        return write_new(folder / name, content)
    except UserError:
        folder.rmdir()
        raise


def write_new(path: Path, content: bytes) -> Path:
    """Write whole under that name, or with a number added where the name is taken."""
    free, number = path, 2
    while free.exists():
        free, number = path.with_name(f"{path.stem}-{number}{path.suffix}"), number + 1
    write_whole(free, content)
    return free
