"""A picture put into the session's folder, or elsewhere where that does not take it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from assist.base import rescue
from assist.base.errors import UserError
from assist.base.trouble import Trouble, of_writing
from assist.base.words import _


@dataclass(frozen=True, slots=True)
class Stored:
    """Where a picture is, None for nowhere, and why it is not where it should be."""

    path: Path | None
    problem: str = ""
    trouble: Trouble | None = None


def store(folder: Path, name: str, content: bytes) -> Stored:
    """Write it whole, over nothing that is there. A folder that was deleted is made again.

    Never raises for what happens to disks and folders.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return Stored(rescue.write_new(folder / name, content))
    except (UserError, OSError) as error:
        problem, why = str(error), of_writing(error.__cause__ or error)
    try:
        path = rescue.keep(name, content, folder)
    except UserError:
        return Stored(None, problem, why)
    problem = _("{problem}; kept as {path}", problem=problem, path=path)
    return Stored(path, problem, Trouble.ELSEWHERE)
