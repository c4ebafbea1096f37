"""Words: catalogues complete and compiled, languages chosen, lengths written and said."""

import gettext
import io
import threading
from string import Formatter

import pytest
from babel.messages.pofile import read_po

from assist.base import words
from assist.base.errors import UserError
from assist.base.words import Words
from tests import catalogue

LANGUAGES = catalogue.languages()


def forms(message):
    return message.string if isinstance(message.string, tuple) else (message.string,)


def placeholders(text):
    return {name for _, name, _, _ in Formatter().parse(text) if name}


@pytest.mark.parametrize("language", LANGUAGES)
def test_catalogue_is_that_of_the_code_and_complete(language):
    """`python -m tests.catalogue update` brings it up to date; then translate what is missing."""
    kept, now = catalogue.read(language), catalogue.updated(language)
    assert {(m.context, m.id) for m in kept} == {(m.context, m.id) for m in now}
    assert not catalogue.untranslated(kept)
    assert not [m.id for m in kept if m.fuzzy and m.id]


@pytest.mark.parametrize("language", LANGUAGES)
def test_translations_have_the_same_placeholders(language):
    for message in catalogue.read(language):
        if not message.id:
            continue
        ids = message.id if isinstance(message.id, tuple) else (message.id,)
        one, many = placeholders(ids[0]), placeholders(ids[-1])
        first, *others = forms(message)
        assert placeholders(first) in (one, many), message.id
        assert all(placeholders(form) == many for form in others), message.id


@pytest.mark.parametrize("language", LANGUAGES)
def test_compiled_catalogue_says_what_the_translators_wrote(language):
    kept = catalogue.read(language)
    with (catalogue.FOLDER / language / "LC_MESSAGES" / "assist.mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    for message in kept:
        if not message.id:
            continue
        if isinstance(message.id, tuple):
            assert (compiled.ngettext(*message.id, 1), compiled.ngettext(*message.id, 2)) == forms(
                message
            )
        elif message.context:
            assert compiled.pgettext(message.context, message.id) == message.string
        else:
            assert compiled.gettext(message.id) == message.string


def test_writing_a_catalogue_is_steady():
    for language in LANGUAGES:
        kept = (catalogue.FOLDER / language / "LC_MESSAGES" / "assist.po").read_bytes()
        again = catalogue.po_bytes(read_po(io.BytesIO(kept), locale=language))
        assert again == kept


def test_unknown_language_is_refused():
    with pytest.raises(UserError, match="use de or en"):
        Words("xx")


def test_words_for_a_block_do_not_reach_other_threads():
    with words.speaking(Words("de")):
        assert words._("a little") == "ein wenig"
        heard = []
        thread = threading.Thread(target=lambda: heard.append(words._("a little")))
        thread.start()
        thread.join()
    assert heard == ["a little"]
    assert words._("a little") == "a little"


def test_words_for_the_process_reach_all_threads():
    words.use(Words("de", "feet"))
    try:
        heard = []
        thread = threading.Thread(target=lambda: heard.append(words.current().length(1.0)))
        thread.start()
        thread.join()
    finally:
        words.use(Words())
    assert heard == ["3,3 Fuß"]
