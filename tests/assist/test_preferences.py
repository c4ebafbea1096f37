"""The one question about the screen: asked once, kept, never where nobody can answer."""

import io
import os
import subprocess
import sys

import pytest

from assist.base.errors import UserError
from assist.cli.options import screen as screen_options
from assist.cli.options.screen import WindowOptions, gather, known_diagonal_m
from assist.output.screen.layout import DEFAULT_DIAGONAL_M
from assist.setup import preferences
from assist.setup.preferences import Preferences
from optics.units import METRES_PER_INCH


@pytest.fixture
def file(tmp_path):
    return tmp_path / "settings" / "preferences.toml"


def answer(monkeypatch, *lines):
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_round_trip(file):
    preferences.save(Preferences(screen_diagonal_m=0.61), file)
    assert preferences.load(file) == Preferences(screen_diagonal_m=0.61)
    assert [p.name for p in file.parent.iterdir()] == ["preferences.toml"]  # nothing half-written


def test_an_answer_is_kept_and_not_asked_for_again(file, monkeypatch, capsys):
    answer(monkeypatch, "huge", "24in")
    assert known_diagonal_m(file, ask=True) == pytest.approx(24 * METRES_PER_INCH)
    assert "huge" in capsys.readouterr().out  # what is wrong with it is said, and asked anew
    answer(monkeypatch)
    assert known_diagonal_m(file, ask=True) == pytest.approx(24 * METRES_PER_INCH)
    assert capsys.readouterr().out == ""


def test_enter_takes_the_usual_one_and_that_is_kept_too(file, monkeypatch):
    answer(monkeypatch, "")
    assert known_diagonal_m(file, ask=True) == pytest.approx(DEFAULT_DIAGONAL_M)
    assert preferences.load(file).screen_diagonal_m == pytest.approx(DEFAULT_DIAGONAL_M)


def test_without_anybody_to_ask_the_default_is_taken_and_nothing_written(file, monkeypatch):
    monkeypatch.setattr(preferences, "usual_path", lambda: file)
    assert gather(WindowOptions(), shown=True).diagonal_m == DEFAULT_DIAGONAL_M
    assert not file.exists()


def test_an_option_goes_over_the_file_and_asks_nothing(file, monkeypatch):
    preferences.save(Preferences(screen_diagonal_m=0.61), file)
    monkeypatch.setattr(preferences, "usual_path", lambda: file)
    monkeypatch.setattr(screen_options, "in_a_conversation", lambda: True)
    assert gather(WindowOptions(), shown=True).diagonal_m == 0.61
    given = WindowOptions(screen_diagonal="50cm")
    assert gather(given, shown=True).diagonal_m == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("screen_diagonal_m = 40", "screen_diagonal_m"),
        ("version = 2", "newer"),
        ("no toml", "is not TOML"),
        ("a = " + "[" * 5000, "is not TOML"),
    ],
)
def test_a_file_that_cannot_be_used_is_named(file, text, hint):
    file.parent.mkdir()
    file.write_text(text)
    with pytest.raises(UserError, match=hint) as caught:
        preferences.load(file)
    assert str(file) in str(caught.value)


def test_an_answer_that_cannot_be_kept_does_not_stop_the_run(tmp_path, monkeypatch, capsys):
    (tmp_path / "settings").write_text("a file where the folder should be")
    answer(monkeypatch, "20in")
    got_m = known_diagonal_m(tmp_path / "settings" / "sub" / "preferences.toml", ask=True)
    assert got_m == pytest.approx(20 * METRES_PER_INCH)
    assert "could not be kept" in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="a terminal of POSIX")
def test_at_a_real_terminal_it_asks(tmp_path):
    """A process with a terminal of its own; the question comes only for a window."""
    program = (
        "from assist.cli.options.screen import WindowOptions, gather\n"
        "print(gather(WindowOptions(), shown=False).diagonal_m)\n"
        "print(gather(WindowOptions(), shown=True).diagonal_m)\n"
    )
    import pty

    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", program], stdin=theirs, stdout=theirs, stderr=theirs,
        env={**os.environ, "XDG_CONFIG_HOME": str(tmp_path), "HOME": str(tmp_path)},
    )  # fmt: skip
    os.close(theirs)
    os.write(ours, b"1m\n")
    said = b""
    try:
        while part := os.read(ours, 4096):
            said += part
    except OSError:  # how Linux tells that the other end has closed
        pass
    os.close(ours)
    assert process.wait(30) == 0
    assert said.count(b"How large is the screen") == 1
    assert said.split()[-1] == b"1.0"
    assert list(tmp_path.rglob("preferences.toml"))
