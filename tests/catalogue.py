"""The catalogues of words: gathered from the code, merged with the translations, compiled.

    python -m tests.catalogue update     # after words in the code have changed; then translate
    python -m tests.catalogue compile    # after a translation has changed

`tests/assist/test_words.py` fails where a catalogue is not up to date, compiled or complete. Needs
Babel.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from assist.cli import command_line, help_text

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "assist" / "base" / "words" / "locale"
KEYWORDS = {
    "_": None,
    "N_": None,
    "gettext": None,
    "_n": (1, 2),
    "ngettext": (1, 2),
    "_p": ((1, "c"), 2),
    "pgettext": ((1, "c"), 2),
    # Errors of `optics`: their messages, and the names of quantities in them.
    "ImpossibleValueError": None,
    "positive": None,
    "as_floats": None,
    "above": None,
    "quantity": None,
    "Series": None,
}
METHODS = [("**.py", "python"), ("**/templates/**.html", "jinja2.ext:babel_extract")]
COMMENT = "L10N:"
"""A comment that begins so, just before a message, is for its translator."""


def gathered() -> Catalog:
    """The messages as the code has them now."""
    catalog = Catalog(project="self-portrait-assist", fuzzy=False)
    for package in ("assist", "optics"):
        for file, _line, message, comments, context in extract_from_dir(
            ROOT / package, METHODS, keywords=KEYWORDS, comment_tags=(COMMENT,),
            strip_comment_tags=True,
        ):  # fmt: skip
            # Files, not lines: a moved line is no change of the catalogue.
            catalog.add(message, None, [(f"{package}/{file}", None)], auto_comments=comments,
                        context=context)  # fmt: skip
    # The help is put together from models and docstrings as the program runs.
    for text in help_text.every_text(command_line(whole=True)):
        catalog.add(text, None, [("assist/cli", None)])
    return catalog


def read(language: str) -> Catalog:
    """The translations there are."""
    with (FOLDER / language / "LC_MESSAGES" / "assist.po").open("rb") as file:
        return read_po(file, locale=language)


def updated(language: str) -> Catalog:
    """The translations, brought to the messages of the code; nothing is guessed."""
    found = read(language)
    found.update(gathered(), no_fuzzy_matching=True)
    found.obsolete.clear()
    return found


_NOISE = ("POT-Creation", "PO-Revision", "Report-Msgid", "Last-Tr", "Language-Team", "Generated-By")
"""Lines of a catalogue's head that change with the day or the tool, and tell nobody anything."""


def po_bytes(catalog: Catalog) -> bytes:
    """A catalogue as its file holds it, in an order that does not change by itself."""
    file = io.BytesIO()
    write_po(file, catalog, width=100, sort_output=True, include_lineno=False)
    lines = file.getvalue().splitlines(keepends=True)
    return b"".join(x for x in lines if not x.startswith(tuple(f'"{n}'.encode() for n in _NOISE)))


def mo_bytes(catalog: Catalog) -> bytes:
    """A catalogue as the program reads it."""
    file = io.BytesIO()
    write_mo(file, catalog)
    return file.getvalue()


def untranslated(catalog: Catalog) -> list[str]:
    """Messages without a translation, or with one that lacks a plural form."""
    return [
        str(message.id)
        for message in catalog
        if message.id
        and not all(message.string if isinstance(message.string, tuple) else (message.string,))
    ]


def languages() -> list[str]:
    """The languages with a catalogue."""
    return sorted(path.name for path in FOLDER.iterdir() if path.is_dir())


def main(what: str) -> None:
    """Update or compile all catalogues."""
    for language in languages():
        catalog = updated(language) if what == "update" else read(language)
        place = FOLDER / language / "LC_MESSAGES"
        (place / "assist.po").write_bytes(po_bytes(catalog))
        (place / "assist.mo").write_bytes(mo_bytes(catalog))
        print(f"{language}: {len(catalog)} messages, {len(untranslated(catalog))} not translated")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "")
