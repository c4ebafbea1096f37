"""Where sessions lie: in ./sessions, by name; elsewhere where a path says so."""

from __future__ import annotations

from pathlib import Path

from assist.base.errors import UserError
from assist.base.words import _
from assist.session.folder import is_session, now

SESSIONS = Path("sessions")
"""In the folder that the program was started in."""


def new_session() -> Path:
    """A new folder there, named by date and time."""
    return SESSIONS / now().strftime("%Y-%m-%d-%H%M%S")


def session_kept(name: str) -> Path:
    """The folder of a session to begin or to go on with.

    name: a bare name lies in ./sessions, or here, where a session of that name is already; anything
    with a folder in it is a path. UserError for an empty one.
    """
    path = _path(name)
    if not _bare(name) or is_session(path):
        return path
    return SESSIONS / path


def session_named(name: str) -> Path:
    """The folder of a session that is there: by path, else by its name in ./sessions.

    Where there is none, the path as it was given: whoever reads it says what is missing.
    """
    path = _path(name)
    if _bare(name) and not path.exists() and (SESSIONS / path).exists():
        return SESSIONS / path
    return path


def _path(name: str) -> Path:
    if not name.strip():
        raise UserError(_("--session: give the session a name, such as saturday"))
    return Path(name)


def _bare(name: str) -> bool:
    path = Path(name)
    return len(path.parts) == 1 and path.name == name and name not in (".", "..")
