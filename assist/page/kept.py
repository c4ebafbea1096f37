"""What is kept and shown on the page: set-ups and sessions of the folder it was started in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assist.base import terms
from assist.base.errors import UserError
from assist.base.files import printable
from assist.base.words import _
from assist.session.folder import is_session
from assist.session.place import SESSIONS
from assist.session.told import sessions_in
from assist.setup import set_up as set_ups
from assist.setup.set_up import SetUp

if TYPE_CHECKING:
    from assist.report.photographs import Photograph

SET_UPS = Path("set-ups")
_NAME = re.compile(r"[\w][\w .+-]{0,60}")
"""Names that are files of their own on every system, and lead nowhere else."""


def checked_name(name: object) -> str:
    """The name of a set-up or session; UserError where it could be a path or nothing."""
    text = name.strip() if isinstance(name, str) else ""
    if not _NAME.fullmatch(text) or text.endswith("."):
        raise UserError(
            _(
                "{name} cannot be a name: use letters, digits, spaces, dots and hyphens",
                name=repr(printable(text)[:60]),
            )
        )
    return text


def set_up_names() -> list[str]:
    """The set-ups kept, by name."""
    return sorted(path.stem for path in SET_UPS.glob("*.toml")) if SET_UPS.is_dir() else []


def set_up_file(name: object) -> Path:
    """The file of a set-up that is kept. Raises UserError where there is none."""
    file = SET_UPS / f"{checked_name(name)}.toml"
    if not file.is_file():
        raise UserError(_("there is no set-up {name}", name=repr(checked_name(name))))
    return file


def keep_set_up(name: object, set_up: SetUp) -> str:
    """Write it under that name, over an earlier one; the name."""
    chosen = checked_name(name)
    SET_UPS.mkdir(exist_ok=True)
    set_ups.save(set_up, SET_UPS / f"{chosen}.toml")
    return chosen


def set_up_controls(name: object) -> dict[str, str]:
    """A kept set-up as the plan's controls hold it."""
    part = set_ups.load(set_up_file(name))
    person, lens = part.person, part.lens
    return {
        "name": part.name or checked_name(name),
        "lens": f"{lens.focal_length_mm:g}mm",
        "aperture": f"f/{lens.f_number:g}",
        "focus": f"{lens.focus_distance_m:g}m",
        "sensor": part.camera.sensor,
        "orientation": part.camera.orientation,
        "stature": "" if person.stature_m is None else f"{person.stature_m:g}m",
        "posture": person.posture,
        "framing": part.framing.shot_size or "",
    }


def session_folder(name: object) -> Path:
    """The folder of a session that is kept. Raises UserError where there is none."""
    folder = SESSIONS / checked_name(name)
    if not is_session(folder):
        raise UserError(_("there is no session {name}", name=repr(checked_name(name))))
    return folder


def sessions() -> list[dict[str, str]]:
    """All sessions, the newest first."""
    found = sorted(sessions_in(SESSIONS), key=lambda one: one.folder.stat().st_mtime, reverse=True)
    return [{"name": one.folder.name, "words": one.in_words()} for one in found]


@dataclass(frozen=True)
class SessionShown:
    """A session as the page shows it, and its photographs, which are fetched one by one."""

    values: dict[str, Any]
    photographs: list[Photograph]


def session(name: object) -> SessionShown:
    """One session: what to keep or change, and its photographs with their words."""
    from assist.report import summary  # noqa: PLC0415  (what reads pictures takes long to load)

    folder = session_folder(name)
    told = summary.gather(folder)
    shots = [
        {
            "attempt": shot.attempt.attempt,
            "verdict": "" if shot.checked is None else terms.told(shot.checked.verdict),
            "said": terms.told(shot.attempt.verdict),
            "eyes": shot.eyes_jpeg is not None,
            "of_camera": shot.of_camera,
        }
        for shot in told.photographs
    ]
    values = {
        "name": folder.name,
        "title": told.name,
        "keep": told.keep,
        "facts": [*told.set_up_facts, *told.plan_facts],
        "attempts": len(told.attempts),
        "shots": shots,
    }
    return SessionShown(values, told.photographs)
