"""Where sessions lie, by name."""

import pytest

from assist.base.errors import UserError
from assist.session import place
from assist.session.folder import SET_UP_FILE


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def begin(folder):
    folder.mkdir(parents=True)
    (folder / SET_UP_FILE).write_text("")


def test_a_bare_name_lies_in_one_place_and_is_found_there(here):
    kept = place.session_kept("saturday")
    assert kept.parent == place.SESSIONS == place.new_session().parent
    begin(kept)
    assert place.session_named("saturday") == kept
    assert place.session_kept("saturday") == kept


def test_a_path_is_taken_as_it_is(here):
    for text in ("./saturday", "pictures/saturday", str(here / "saturday"), "..", "."):
        assert place.session_kept(text).resolve() == (here / text).resolve()
        assert place.session_named(text).resolve() == (here / text).resolve()


def test_a_session_that_was_named_here_before_is_gone_on_with(here):
    begin(here / "sunday")
    assert place.session_kept("sunday").resolve() == here / "sunday"
    assert place.session_named("sunday").resolve() == here / "sunday"


def test_what_is_not_there_stays_as_it_was_given():
    assert str(place.session_named("monday")) == "monday"


@pytest.mark.parametrize("empty", ["", "  "])
def test_an_empty_name_is_refused(empty):
    for find in (place.session_kept, place.session_named):
        with pytest.raises(UserError, match="give the session a name"):
            find(empty)
