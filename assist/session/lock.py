"""One run at a time in a session's folder.

`assist.base.system.locks` says how each operating system locks a folder.
"""

from __future__ import annotations

import os
from pathlib import Path

from assist.base.closing import Closing
from assist.base.errors import UserError
from assist.base.system import here, locks
from assist.base.words import _


class FolderLock(Closing):
    """Holds the folder until it is closed. Raises UserError when another run does."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder.resolve()
        try:
            handle = locks.open_for_lock(here(), self._folder)
        except OSError as error:
            raise UserError(
                _(
                    "session folder {folder} cannot be written to: {why}",
                    folder=folder,
                    why=error.strerror,
                )
            ) from error
        if not locks.try_lock(here(), handle):
            os.close(handle)
            raise UserError(
                _(
                    "session folder {folder} is in use by another run: end that one, or name "
                    "another folder",
                    folder=folder,
                )
            )
        self._handle: int | None = handle

    def renew(self) -> None:
        """Hold the folder that was made again; what is held now is the one that was deleted."""
        if self._handle is None:
            return
        try:
            new = locks.open_for_lock(here(), self._folder)
        except OSError:
            return
        if locks.try_lock(here(), new):
            os.close(self._handle)
            self._handle = new
        else:
            os.close(new)

    def close(self) -> None:
        """Let another run have the folder; safe to call twice."""
        handle, self._handle = self._handle, None
        if handle is not None:
            os.close(handle)
