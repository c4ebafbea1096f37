"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from assist.base.errors import UserError
from assist.base.secret import without_secrets
from assist.base.words import _


def write_whole(path: Path, content: bytes) -> None:
    """Write beside the target, then replace it, so that no reader sees half a file."""
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        why = error.strerror if isinstance(error, OSError) else error
        raise UserError(
            _("cannot write in {folder}: {why}", folder=path.parent, why=why)
        ) from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(_usual_mode())
        Path(temporary).replace(path)
    except OSError as error:
        Path(temporary).unlink(missing_ok=True)
        raise UserError(_("cannot write {path}: {why}", path=path, why=error.strerror)) from error


def printable(path: Path | str) -> str:
    """A path that can be shown and kept: bytes in it that are no text become escapes.

    An address loses its user and password.
    """
    text = without_secrets(str(path))
    try:
        content = text.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:  # half a character, as a file can hold and no path of this system
        content = text.encode("utf-8", "surrogatepass")
    return content.decode("utf-8", "backslashreplace")


def plain(text: str) -> str:
    """Text from a file for a terminal: what would move its cursor or change its colours is shown.

    Line ends and characters that turn the direction of writing count among it.
    """
    return "".join(
        c if c.isprintable() or c == " " else c.encode("unicode_escape").decode()
        for c in printable(text)
    )


def _usual_mode() -> int:
    """The permissions that a file made in the ordinary way would have."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def refuse_existing(path: Path, replace: bool) -> None:
    """UserError where a file is there that was not to be replaced (an option, `--replace`).

    Also where its folder is not: told before what goes into the file has been worked for.
    """
    if path.exists() and not replace:
        raise UserError(
            _("{path} exists; give another name, or --replace to write over it", path=path)
        )
    if not path.parent.is_dir():
        raise UserError(
            _("cannot write {path}: there is no folder {folder}", path=path, folder=path.parent)
        )


def free_name(wish: Path, holds: str) -> Path:
    """The folder itself, or the first numbered one beside it without a file of the name `holds`."""
    folder, number = wish, 1
    while (folder / holds).exists():
        number += 1
        folder = wish.with_name(f"{wish.name}-{number}")
    return folder
