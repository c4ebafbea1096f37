"""The program starts without what it does not need, and its short help is the real one's."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from assist import cli
from assist.base.words import Words, speaking
from assist.cli import help_text, mistakes
from assist.cli.commands import ENTRIES
from assist.cli.lazy import Entry, LazyGroup

ROOT = Path(__file__).parents[2]
HEAVY = ("cv2", "mediapipe", "matplotlib", "numpy")


def loaded_by(*words):
    """Which of the heavy libraries the program loads for these words."""
    code = (
        "import sys\nfrom assist import start\n"
        "try:\n    start.main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        f"print('\\n', *[name for name in {HEAVY} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()[-1].split()


@pytest.mark.parametrize("words", [("--help",), ("--version",), ()])
def test_the_help_of_all_loads_nothing_heavy(words):
    assert loaded_by(*words) == []


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("--lens", "50mm", "--aperture", "f/5.6", "--focus", "3m"),
        ("--lens", "50mm f/1.8", "--room-before", "0.5m", "--framing", "knees-up", "--json"),
    ],
)
def test_a_plan_loads_no_pictures_and_no_network(words):
    assert set(loaded_by("plan", *words)) <= {"numpy"}


def test_the_check_loads_nothing_heavy():
    assert loaded_by("check", "--help") == []


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.name)
def test_the_line_in_the_list_is_the_first_of_the_commands_own_help(entry):
    assert entry.load().help.split("\n\n")[0] == entry.line


def test_a_command_is_loaded_when_it_is_wanted_and_only_then():
    group = LazyGroup(name="all")
    group.add(Entry("demo", "assist.cli.demo", "A line."))
    group.add(Entry("gone", "assist.cli.gone", "None."))
    assert [group.commands[name].help for name in ("demo", "gone")] == [
        "A line.",
        "None.",
    ]
    group.load("demo")
    assert group.commands["demo"].params
    for _ in range(2):
        with pytest.raises(ImportError):
            group.load("gone")
    group.load("unknown")


def test_the_help_is_told_in_the_language_that_holds_as_far_as_it_is_translated(monkeypatch):
    class Shouting(Words):
        def gettext(self, message, **values):
            return message.upper()

    with speaking(Shouting()):
        live = next(entry for entry in ENTRIES if entry.name == "live").load()
        assert live.help == live.help.upper()
        for parameter in live.params:
            assert parameter.help == parameter.help.upper()
            panel = parameter.rich_help_panel
            assert panel is None or panel == panel.upper()
        heading, *lines = live.epilog.split("\n\n")
        assert heading == "EXAMPLES:"
        assert all(line.startswith("assist live") for line in lines)


def test_every_text_of_the_help_is_for_the_catalogue():
    texts = set(help_text.every_text(cli.command_line(whole=True)))
    assert {"Examples:", "Set-up file (TOML).", "Self-timer", "Options"} <= texts
    assert {entry.line for entry in ENTRIES} <= texts
    assert not any("\n" in text for text in texts)


@pytest.mark.parametrize(
    ("message", "told"),
    [
        ("Invalid value for '--x': Value error, 'q' is not one of 'a', 'b'.",
         "Invalid value for '--x': 'q' is not one of 'a', 'b'."),
        ("Missing option '--out'.", "Missing option '--out'."),
        ("No such command 'a'. Did you mean 'b'?", "No such command 'a'. Did you mean 'b'?"),
        ("something else", "something else"),
    ],
)  # fmt: skip
def test_what_the_library_says_of_a_mistake(message, told):
    assert mistakes.in_words(message) == told

    class Marked(Words):
        def gettext(self, text, **values):
            return "<" + super().gettext(text, **values) + ">"

    with speaking(Marked()):
        known = message != "something else"
        assert mistakes.in_words(message).startswith("<") == known


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [
        ("--ligt", ["--ev", "--metered"]), ("--focal-length", ["--lens"]), ("--len", ["--lens"]),
        ("--apperture", ["--aperture"]), ("--heigth", ["--stature"]), ("--dance", ["--distance"]),
        ("--x", []), ("--shot-size", ["--framing"]),
    ],
)  # fmt: skip
def test_a_mistyped_option_of_plan_is_told_which_may_be_meant(wrong, meant, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["assist", "plan", wrong, "3"])
    assert cli.run(cli.load()) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"assist: No such option: {wrong}")
    offered = re.search(r"Possible options: (.+)\)", told)
    assert (offered[1].split(", ") if offered else []) == meant


def test_a_group_without_a_command_shows_its_help_and_no_empty_error(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["assist", "sessions"])
    assert cli.run(cli.load()) == 2
    told = capsys.readouterr()
    assert "export" in told.out + told.err
    assert "assist: \n" not in told.err
