"""What the program asks a user once and remembers: one small file in the user's own folder.

It holds nothing about pictures or people, only about the user's equipment.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import platformdirs
import tomlkit
from pydantic import BaseModel, ConfigDict, Field

from assist.base.errors import UserError
from assist.base.files import write_whole
from assist.base.reading import read_toml
from assist.base.validation import validated
from assist.base.words import _
from assist.setup.feed_kind import FeedKind

VERSION: Literal[1] = 1
LEAST_DIAGONAL_M, MOST_DIAGONAL_M = 0.05, 5.0


class Preferences(BaseModel):
    """The answers so far; None where nothing was asked yet."""

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)

    version: Literal[1] = Field(VERSION, description="version of this file's layout")
    screen_diagonal_m: float | None = Field(
        None,
        ge=LEAST_DIAGONAL_M,
        le=MOST_DIAGONAL_M,
        description="diagonal of the screen that the guidance is shown on, m",
    )
    feeds: dict[str, FeedKind] = Field(
        {}, max_length=200, description="through which lens each feed sees, by its name"
    )


def usual_path() -> Path:
    """Where the file lies: the operating system's place for a program's settings."""
    return Path(platformdirs.user_config_dir("self-portrait-assist")) / "preferences.toml"


def load(path: Path) -> Preferences:
    """The preferences kept in the file, empty ones where there is none.

    Raises UserError for a file that cannot be used, naming it.
    """
    if not path.exists():
        return Preferences()  # type: ignore[call-arg]
    try:
        values = read_toml(path, _("preferences {path}", path=path))
    except UserError as error:
        raise UserError(_("{error}; mend or remove it", error=error)) from error
    what = _("preferences {path}", path=path)
    return validated(Preferences, values, what, mend=_("mend or remove it"), newest=VERSION)


def save(preferences: Preferences, path: Path) -> None:
    """Write the file whole or not at all; UserError when that fails."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Preferences of the self-portrait assistant; remove to be asked"))
    document.add(tomlkit.comment("anew."))
    for name, field in Preferences.model_fields.items():
        value = getattr(preferences, name)
        if value is not None and name != "feeds":
            document.add(name, tomlkit.item(value).comment(str(field.description)))
    if preferences.feeds:
        kinds = {
            feed: kind.model_dump(exclude_none=True) for feed, kind in preferences.feeds.items()
        }
        document.add("feeds", tomlkit.item(kinds))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(
            _("cannot make {folder}: {why}", folder=path.parent, why=error.strerror)
        ) from error
    write_whole(path, str(tomlkit.dumps(document)).encode())
