"""README and guide are true: every command in them is read and run, every option is there."""

import re
import shlex
import sys
import time
from pathlib import Path

import cv2
import pytest

from assist import cli, feed, guide
from assist.run import demo
from assist.setup import preferences
from assist.setup.feed_kind import FeedKind
from tests.assist.command_lines import every_command, named_by, parse
from tests.benchmarks import accuracy_lines
from tests.benchmarks.tables import RESULTS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = {"README": README} | {
    (language, page.topic): page.text for language in ("en", "de") for page in guide.pages(language)
}
TEXT = "\n".join(DOCUMENTS.values())
STANDS_FROM, STANDS_TO = 225, 257  # pictures of the clip in which the person stands at the mark


def shell_lines():
    """The lines of all shell blocks, README first, continued lines joined."""
    for block in re.findall(r"^```sh\n(.*?)^```$", TEXT, re.MULTILINE | re.DOTALL):
        for line in block.replace("\\\n", " ").splitlines():
            for part in re.split(r"\s*&&\s*", line):
                yield part.strip()


def commands():
    """Those that call the program, as if it were on the path."""
    for line in shell_lines():
        match = re.match(r"(?:\.venv/bin/)?(assist\b.*)", line)
        if match:
            yield match[1]


def mentions():
    """Calls of the program in the running text."""
    for code in re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```", "", TEXT, flags=re.M | re.S)):
        if re.match(r"assist [a-z]", code):
            yield code


def test_the_readme_is_read_at_all():
    assert len(list(commands())) > 10
    assert any("--room-before" in line for line in commands())
    assert "assist demo" in set(commands())
    assert len(list(mentions())) > 5


@pytest.mark.parametrize("line", sorted(set(commands())))
def test_every_command_parses(line):
    parse(line)


@pytest.mark.parametrize("line", sorted(set(mentions())))
def test_every_command_that_is_mentioned_is_there(line):
    command, rest = named_by(shlex.split(line))
    assert command.name not in (None, "assist"), line
    options = {name for given in command.params for name in (*given.opts, *given.secondary_opts)}
    for word in rest:
        if word.startswith("-"):
            assert word in options | {"--help"}, line


def test_every_option_that_is_mentioned_is_there():
    known = {"--help", "--dev"}
    for _, command in every_command():
        for parameter in command.params:
            known |= {*parameter.opts, *parameter.secondary_opts}
    texts = re.findall(r"`(--[a-z][^`]*)`", TEXT)
    assert texts
    assert {text.split()[0].split("=")[0] for text in texts} - known == set()


def test_every_picture_and_file_named_is_there():
    named = re.findall(r"\[[^\]]*\]\(((?!http)[^)]+)\)", TEXT)
    named += re.findall(r"`((?:samples|tests|assist)/[^`]+)`", TEXT)
    assert len(named) > 4
    for name in named:
        assert (ROOT / name).exists(), name


def test_the_readme_is_short():
    assert len(README.split()) <= 1200


def test_every_page_of_the_guide_asks_one_question_and_is_in_the_readme():
    for page in guide.pages():
        assert page.question.endswith("?"), page.topic
        assert len(re.findall(r"^# ", page.text, re.MULTILINE)) == 1, page.topic
        assert f"[{page.question}](assist/guide/{page.topic}.md)" in README, page.topic
    folder = Path(guide.__file__).parent
    assert {file.stem for file in folder.glob("*.md")} == set(guide.TOPICS)


@pytest.mark.parametrize("page", guide.pages("de"), ids=lambda page: page.topic)
def test_a_translated_page_has_what_the_page_has(page):
    """The same commands and the same headings, as far as it is translated."""
    english = guide.page(page.topic)
    if page.text == english.text:
        return
    assert page.question.endswith("?")
    blocks = r"^```.*?^```$"
    found, wanted = (re.findall(blocks, one.text, re.M | re.S) for one in (page, english))
    assert found == wanted
    assert len(re.findall(r"^## ", page.text, re.M)) == len(re.findall(r"^## ", english.text, re.M))


def test_the_figures_are_those_of_the_benchmarks():
    assert accuracy_lines.of_clip() in README
    assert accuracy_lines.of_bodies() in README
    kept = "\n".join(file.read_text(encoding="utf-8") for file in RESULTS.glob("*.md"))
    cells = {tuple(re.split(r"\s*\|\s*", line.strip("| "))) for line in kept.splitlines()}
    tables = re.findall(r"<!-- \S+:begin -->\n(.*?)<!--", TEXT, re.DOTALL)
    rows = [line for table in tables for line in table.splitlines() if line.startswith("|")]
    assert len(rows) > 20
    for row in rows:
        assert is_of(re.split(r"\s*\|\s*", row.strip("| ")), cells), row


def is_of(row, kept):
    """Whether the row, or its figures under a name of its own, stand in a kept table in order."""
    if set(row) <= {"---"}:
        return True

    def in_order(whole):
        rest = iter(whole)
        return all(any(cell == other for other in rest) for cell in row[1:])

    return any(in_order(whole) for whole in kept)


@pytest.mark.parametrize("page", guide.pages(), ids=lambda page: page.topic)
def test_a_page_is_shown_on_the_terminal(page, capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["assist", "guide", page.topic, "--language", "en"])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    out = capsys.readouterr().out
    assert ended.value.code == 0
    assert page.question in out
    assert "<!--" not in out


def test_a_topic_that_is_not_there_is_told_in_a_line(capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["assist", "guide", "narow", "--language", "en"])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 2
    assert (
        capsys.readouterr().err.strip()
        == "assist: narow: there is no such page; did you mean narrow?"
    )


def test_every_command_does_what_is_promised(tmp_path, monkeypatch, capsys):
    """In the order of README and guide, with a short clip in place of the camera."""
    clip = tmp_path / "standing.mp4"
    capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
    writer = cv2.VideoWriter(str(clip), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (1280, 720))
    for index in range(STANDS_TO):
        _, picture = capture.read()
        if index >= STANDS_FROM:
            writer.write(picture)
    writer.release()

    from_files, sleep = feed.open_source, time.sleep

    def open_source(name, *more):
        return from_files(str(clip) if name == "0" else name, *more)

    monkeypatch.setattr(feed, "open_source", open_source)
    monkeypatch.setattr(time, "sleep", lambda seconds: sleep(min(seconds, 0.05)))
    monkeypatch.chdir(tmp_path)
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    # As somebody answers who is asked once where the feed's picture comes from.
    answers = tmp_path / "preferences.toml"
    kind = FeedKind(through="taking-lens", horizontal_field_of_view_deg=None)
    preferences.save(preferences.Preferences(feeds={"0": kind}), answers)
    monkeypatch.setattr(preferences, "usual_path", lambda: answers)
    done = []
    for line in dict.fromkeys(commands()):
        # An address of this machine, and a timer that the clip is long enough for.
        here = line.replace("192.168.1.20", "127.0.0.1").replace("--timer 10s", "--timer 1s")
        words = shlex.split(here)
        # These open devices, take long, or serve until they are ended; each has tests of its own.
        if words[1] in ("check", "demo", "sounds", "page") or "board" in words or "--help" in words:
            continue
        monkeypatch.setattr(sys, "argv", words)
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capsys.readouterr()
        assert ended.value.code == 0, f"{line}\n{out}{err}"
        done.append(line)
    assert len(done) > 8
