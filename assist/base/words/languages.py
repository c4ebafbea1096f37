"""Which languages there are, and which one the user's computer speaks."""

from __future__ import annotations

import gettext
import locale
import os
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from assist.base.errors import UserError

DOMAIN = "assist"
FOLDER = Path(__file__).resolve().parent / "locale"


@lru_cache
def languages() -> tuple[str, ...]:
    """Codes (ISO 639-1) of the languages that there are words in; "en" is always one."""
    return tuple(sorted({"en", *(path.name for path in FOLDER.iterdir() if path.is_dir())}))


def language_of_locale(environment: Mapping[str, str] = os.environ) -> str:
    """The user's language as far as there are words in it, else "en".

    The environment's variables are looked at in POSIX order (LC_ALL, LC_MESSAGES, LANG); where none
    is set, as on Windows, Python's own idea of the locale counts.
    """
    names = [
        environment[name] for name in ("LC_ALL", "LC_MESSAGES", "LANG") if environment.get(name)
    ]
    own = locale.getlocale()[0]
    if not names and own:
        names = [locale.normalize(own.split("_")[0])]  # Windows says "German_Germany"
    code = names[0].replace("-", "_").split("_")[0].split(".")[0].lower() if names else "en"
    return code if code in languages() else "en"


@lru_cache
def translations(language: str) -> gettext.NullTranslations:
    """The catalogue of a language; UserError where there is none."""
    if language not in languages():
        from assist.base.words import _  # noqa: PLC0415  (it is made from this module)

        known = _(" or ").join(languages())
        raise UserError(
            _("no words in language {language}: use {known}", language=repr(language), known=known)
        )
    if language == "en":
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, FOLDER, [language])
