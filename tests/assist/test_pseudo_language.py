"""Nothing that a person sees or hears escapes translation.

Every message is translated into a language that has no plain letter: "step" becomes "śťéṕ". Then
the real command line is run, and whatever word of three plain letters or more is left in what it
shows, says or writes was never handed to a translation. Values that a message is filled with keep
their letters: names of files and what the user typed are the same in every language, and are named
below.
"""

from __future__ import annotations

import gettext
import html.parser
import importlib
import re
import string
from string import Formatter

import cv2
import matplotlib.text
import numpy as np
import pytest
from typer import rich_utils

from assist import cli
from assist.base import words
from assist.base.trouble import Notices, Trouble
from assist.base.words import Words
from assist.calibrate import at_marks
from assist.check import sequence
from assist.cli import help_text
from assist.guidance.countdown import TimerOptions
from assist.output.phone.page_message import page_message
from assist.output.phone.page_words import page_words
from assist.output.screen import text as drawn_text
from assist.output.screen.plan_view import PlanView
from assist.output.screen.screen import GuidanceScreen, ScreenOptions
from assist.output.sound.cues import CueMaker
from assist.output.sound.tour import stops
from assist.review import reviewing
from assist.run import demo, opening
from assist.run.live import LiveOptions, LiveRun
from tests.assist import test_check, test_report
from tests.assist.command_lines import every_command
from tests.assist.footage import SET_UP, SIZE_PX, BlankSource, PlacedDetector
from tests.assist.test_together import Placed, set_up_for
from tests.benchmarks.same_as_before_cases import BAD, plans

ACCENTED = str.maketrans(
    string.ascii_letters,
    "áƀćđéƒǧĥíǰķĺḿńóṕɋŕśťúṽŵẍýž" "ÁɃĆĐÉƑǦĤÍɈĶĹḾŃÓṔɊŔŚŤÚṼŴẌÝŽ",
)  # fmt: skip


def marked(message: str) -> str:
    """The message without plain letters, its {placeholders} as they were."""
    parts = []
    for text, name, form, conversion in Formatter().parse(message):
        parts.append(text.replace("{", "{{").replace("}", "}}").translate(ACCENTED))
        if name is not None:
            end = (f"!{conversion}" if conversion else "") + (f":{form}" if form else "")
            parts.append(f"{{{name}{end}}}")
    return "".join(parts)


class PseudoTranslations(gettext.NullTranslations):
    """A catalogue with every message there is or will be."""

    def gettext(self, message):
        return marked(message)

    def ngettext(self, msgid1, msgid2, n):
        return marked(msgid1 if n == 1 else msgid2)

    def pgettext(self, context, message):
        return marked(message)


@pytest.fixture(autouse=True)
def pseudo(monkeypatch):
    """Whatever language is asked for, it is that one."""
    monkeypatch.setattr(words.words, "translations", lambda language: PseudoTranslations())
    of_library = {*help_text.LIBRARY, help_text.OF_EVERY_COMMAND}
    monkeypatch.setattr(
        gettext, "dgettext", lambda domain, message: marked(message)
        if message in of_library else message,
    )  # fmt: skip
    words.use(Words())
    importlib.reload(rich_utils)  # it takes its headings as it is loaded, which another test may do
    yield
    monkeypatch.undo()
    importlib.reload(rich_utils)
    words.use(Words())


# -- what may be left ------------------------------------------------------------------------------

SAME_EVERYWHERE = re.compile(
    r"""
    --[a-z][a-z-]*                                # options
    | (?<!\w)assist(?:\s[a-z-]+)*                  # the program and its commands, as they are typed
    | \S*[\w.]/\S* | (?:\./)\S+                       # paths and addresses
    | (?<!\w)\.[a-z]{2,5}\b                         # endings of files
    | \S+\.(?:toml|mp4|jpg|png|pdf|csv|jsonl|json|wav|svg|html|txt|task|tflite|py|avi|gif|mp3)\b
    """,
    re.VERBOSE,
)
ALLOWED = frozenset(
    {
        # How a picture was taken, as `--trigger` has it.
        "frame",
        # Formats of sensors, as their makers and `--sensor` call them.
        "full-frame", "aps-c", "four-thirds", "one-inch",
    }
)  # fmt: skip
"""Words that are the same in every language, or not for people."""
OF_SYSTEMS = ("Python", "OpenCV", "mediapipe", "linux", "macos", "windows", ", other",
              "espeak-ng", "sudo apt-get install", "libportaudio",
              "[tether]", "[sound]")  # fmt: skip
"""Names of programs and packages, and what is typed to install them."""
WORD = re.compile(r"(?=[a-z-]{3})[a-z]+(?:-[a-z]+)*", re.IGNORECASE)
LEAST_LETTERS = 3


def escaped(text: str, *given: str) -> list[str]:
    """Words of plain letters in a text, less those that may be there and what was `given`."""
    for value in sorted(given, key=len, reverse=True):
        if len(value) >= LEAST_LETTERS:
            text = text.replace(value, " ")
    left = SAME_EVERYWHERE.sub(" ", text)
    found = (word for word in WORD.findall(left) if len(word) >= LEAST_LETTERS)
    return [word for word in found if word not in ALLOWED]


SHOWN_ATTRIBUTES = ("alt", "title", "aria-label", "placeholder")


class _Seen(html.parser.HTMLParser):
    """The text of a page, and of the attributes that are shown or read out."""

    def __init__(self, unseen):
        super().__init__()
        self.texts: list[str] = []
        self._hidden = {"style", "script", "metadata", *unseen}
        self._unseen = 0

    def handle_starttag(self, tag, attributes):
        self._unseen += tag in self._hidden
        self.texts += [value for name, value in attributes if name in SHOWN_ATTRIBUTES and value]

    def handle_endtag(self, tag):
        self._unseen -= tag in self._hidden

    def handle_data(self, data):
        if not self._unseen:
            self.texts.append(data)


def seen_in(page: str, unseen: tuple[str, ...] = ()) -> str:
    parser = _Seen(unseen)
    parser.feed(page)
    return "\n".join(parser.texts)


@pytest.fixture
def drawn(monkeypatch):
    """Every text that is put into a plot or a picture, while the test runs."""
    kept: list[str] = []
    write = cv2.putText
    monkeypatch.setattr(
        cv2, "putText", lambda picture, text, *how: kept.append(text) or write(picture, text, *how)
    )
    put = matplotlib.text.Text.set_text

    def keep(self, text):
        kept.append(str(text or ""))
        put(self, text)

    monkeypatch.setattr(matplotlib.text.Text, "set_text", keep)
    return kept


# -- the command line ------------------------------------------------------------------------------


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run `assist` in an empty folder; its exit code and all that it printed."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "500")  # no word is broken at the end of a line
    monkeypatch.setenv("NO_COLOR", "1")

    def run(*arguments):
        monkeypatch.setattr("sys.argv", ["assist", *map(str, arguments)])
        code = cli.run(cli.load())
        out, err = capsys.readouterr()
        return code, out + err

    return run


def walking(time_s):
    """Somebody walks in, stops short of the mark, goes on past it and comes back."""
    if time_s < 0.5:
        return None
    return max(6.0 - 1.2 * time_s, 2.5) if time_s < 4 else min(2.5 + (time_s - 4), 3.9)


class Stand(PlacedDetector):
    """Takes the pose network's place."""

    threads = (1,)

    def __init__(self, *_given, **_options):
        super().__init__(walking)

    def __enter__(self):
        return self

    def __exit__(self, *_error):
        self.close()


LENS = ("--lens", "35mm", "--aperture", "f/2.8", "--focus", "4m", "--stature", "1.69m")


@pytest.fixture
def clip(tmp_path):
    """Eight seconds of a grey room."""
    path = tmp_path / "room.mp4"
    video = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 15.0, SIZE_PX)
    ramp = np.tile(np.linspace(60, 200, SIZE_PX[0], dtype=np.uint8)[None, :, None],
                   (SIZE_PX[1], 1, 3))  # fmt: skip
    for _ in range(120):
        video.write(ramp)
    video.release()
    return path


def check(text, *given):
    assert text.strip()
    left = {word: line.strip() for line in text.splitlines()
            for word in escaped(line, *map(str, given))}  # fmt: skip
    assert not left, f"never translated: {left}"


OF_A_SIGNATURE = re.compile(r"<[^>]+>|\[OPTIONS\]|\[[a-z|-]+\]|\b[A-Z]{2,}\b|WxH")
"""Kinds of values as the library of the command line shows them, and places for values."""
A_DEFAULT = re.compile(rf"\[{marked('default')}: [^\]]*\]")


@pytest.mark.parametrize("path", [" ".join(path) for path, _command in every_command()])
def test_help(run, path):
    code, text = run(*path.split()[1:], "--help")
    assert code == 0
    lines = [line for line in text.splitlines() if not line.strip().startswith("assist ")]
    text = A_DEFAULT.sub(" ", OF_A_SIGNATURE.sub(" ", "\n".join(lines)))
    _, command = next(pair for pair in every_command() if " ".join(pair[0]) == path)
    names = [p.name for p in command.params] + [*getattr(command, "commands", {})]
    check(
        re.sub(rf"(?<=[ [{{])(?:{'|'.join(names)})(?=[] .}}])", " ", text), "{attempt}", "{folder}"
    )  # of --on-fire, typed as they stand


@pytest.mark.parametrize("given", [*plans()[::7], *plans()[30:42:4]], ids=" ".join)
def test_plan(run, given):
    if "good.toml" in given:
        pytest.skip("the file is another test's")
    code, text = run("plan", *given)
    check(text)
    assert code in (0, 1, 2)  # 1: there is no such set-up


def test_plan_with_a_sheet_and_a_side_view(run, drawn, tmp_path):
    code, text = run("plan", *LENS, "--camera-height", "1.4m", "--ev", "9", "--iso", "400",
                     "--background", "8m", "--sheet", "a.html", "--side-view", "a.svg",
                     "--save", "mine.toml")  # fmt: skip
    assert code == 0
    check(text)
    check(seen_in((tmp_path / "a.html").read_text()))
    check("\n".join(drawn))
    code, text = run("plan", *LENS, "--full")
    assert code == 0
    check(text)


QUOTED = re.compile(r"'[^']*'")
"""Values that the user gave, or may give."""
OF_ITSELF = (
    "gopher",
    "Empty key at line 1 col 0",
    "rtsp, rtsps, rtmp, http, https, rtp, udp, srt, tcp",
)
"""What a library says of a file in a format of its own, and the names of protocols."""
FIELD = re.compile(r"\b[a-z]+(?:[._][a-z]+)*(?=: | ḿúśť ƀé á ťáƀĺé)")
"""The place in a file, as the file has it."""


def test_errors(run, clip, tmp_path):
    """Wrong lines of every kind, in a folder that has what some of them name."""
    lens = "[lens]\nfocal_length_mm = 35\nf_number = {}\nfocus_distance_m = 4\n"
    for name, text in (
        ("good", lens.format(2)), ("bad", lens.format(0)), ("flat", "lens = 35\n"),
        ("odd", lens.format(2) + 'colour = "red"\n'), ("newer", "version = 2\n"),
    ):  # fmt: skip
        (tmp_path / f"{name}.toml").write_text(text)
    (tmp_path / "broken.mp4").write_bytes(b"\0not a video")
    (tmp_path / "empty").mkdir()
    cv2.imwrite(str(tmp_path / "room.jpg"), np.zeros((90, 160, 3), np.uint8))
    left = {}
    for line in BAD:
        if "-- " in line:
            continue
        code, text = run(*line)
        given = {word for part in line for word in part.split()}
        told = QUOTED.sub(" ", FIELD.sub(" ", text.removeprefix("assist: ")))
        if code and (found := escaped(told, *line, *given, *OF_ITSELF)):
            left[" ".join(line)] = (found, text)
    assert not left, "\n".join(f"{line}: {found}" for line, found in left.items())


# -- runs ------------------------------------------------------------------------------------------


def test_live_with_a_session_that_is_shown_listed_and_reported(run, clip, monkeypatch, tmp_path):
    monkeypatch.setattr(opening, "MediaPipePoseDetector", Stand)
    code, text = run("live", clip, *LENS, "--no-window", "--timer", "7s", "--trigger", "frame",
                     "--session", "saturday", "--output", "out.mp4")  # fmt: skip
    assert code == 0
    check(text, clip, "saturday")
    for line in (("show", "saturday"), ("list",), ("export", "saturday")):
        code, text = run("sessions", *line)
        assert code == 0
        if text.strip():
            check(text, "saturday")
    code, text = run("report", "saturday")
    assert code == 0
    check(text, "saturday")
    check(seen_in((tmp_path / "saturday" / "report.html").read_text()), "saturday")


@pytest.mark.parametrize("session", [False, True])
def test_review(run, monkeypatch, tmp_path, session):
    monkeypatch.setattr(reviewing, "MediaPipePoseDetector", Stand)
    test_report.session(tmp_path / "one", reviewed=False)
    edges = np.kron(np.indices((9, 16)).sum(axis=0) % 2 * 200, np.ones((40, 40)))
    for name in ("picture-0001.png", "picture-0003.png"):
        cv2.imwrite(str(tmp_path / "one" / name), edges.astype(np.uint8))
    given = ("one", "--session", "one") if session else ("one/picture-0001.png", "--output", "two")
    code, text = run("review", *given)
    assert code == 0, text
    check(text, "picture-0001.png", "picture-0003.png")
    for page in tmp_path.glob("*/**/*.html"):
        check(seen_in(page.read_text()), "picture-0001.png", "picture-0003.png")


def test_rehearse(run, clip, monkeypatch):
    monkeypatch.setattr(opening, "MediaPipePoseDetector", Stand)
    code, text = run("rehearse", clip, *LENS, "--no-window", "--timer", "7s", "--session", "keep")
    assert code == 0
    check(text, clip)


@pytest.mark.parametrize("reviewed", [False, True])
def test_report_of_all_that_can_be_in_one(run, drawn, tmp_path, reviewed):
    test_report.session(tmp_path / "one", name="17", reviewed=reviewed)
    code, text = run("report", "one")
    assert code == 0
    wicked = re.findall(r"[A-Za-z]{3,}", test_report.WICKED)
    check(text, *wicked)
    check(seen_in((tmp_path / "one" / "report.html").read_text()), *wicked)
    check("\n".join(drawn), *wicked)


@pytest.mark.parametrize("line", [("lens", "--lens", "35mm", "--focus", "4m"),
                                  ("view", "--diagonal", "70deg")], ids=" ".join)  # fmt: skip
def test_calibrate(run, clip, line):
    code, text = run("calibrate", *line, "--out", "a.toml", "--size", "1920x1080")
    assert code == 0
    check(text)


def test_demo(run, drawn, monkeypatch):
    monkeypatch.setattr(demo, "MediaPipePoseDetector", Stand)
    code, text = run("demo", "--folder", "shown", "--no-window")
    check(text)
    assert code == 0
    check("\n".join(drawn))


def test_calibrate_by_marks(run, clip, monkeypatch):
    monkeypatch.setattr(at_marks, "MediaPipePoseDetector", Stand)
    _code, text = run("calibrate", "mark", clip, "--at", "3m", "--out", "m.toml", *LENS)
    check(text)


def test_board_to_print(run, drawn):
    code, text = run("calibrate", "print-board", "board.pdf")
    assert code == 0
    check(text)
    check("\n".join(drawn))


def test_sounds(run):
    code, text = run("sounds", "--output", "tour.wav")
    assert code == 0
    check(text)


# -- what is told in a run -------------------------------------------------------------------------


class Heard:
    """Keeps every message."""

    def __init__(self):
        self.messages = []

    def hear(self, message):
        self.messages.append(message)

    def close(self):
        pass


@pytest.mark.parametrize("place", [walking, lambda time_s: 4.0, lambda time_s: None])
def test_every_word_of_a_run(monkeypatch, place):
    heard, notices, patches = Heard(), Notices(), []
    patch = drawn_text.patch
    monkeypatch.setattr(drawn_text, "patch", lambda t, *of: patches.append(t) or patch(t, *of))
    troubles = list(Trouble)

    def trouble(_moment):
        if troubles and len(heard.messages) % 8 == 0:
            notices.tell(troubles.pop())

    LiveRun(
        SET_UP, BlankSource(6), PlacedDetector(place),
        LiveOptions(window=False, timer=TimerOptions(3.0)),
        on_moment=trouble, listener=heard, say=Words(), notices=notices,
    ).run()  # fmt: skip
    cues, view = CueMaker(SET_UP.focus_zone), PlanView(SET_UP.focus_zone)
    screen = GuidanceScreen(SET_UP.focus_zone, ScreenOptions((640, 360), keys="QT"), Words())
    shown = set()
    for n, message in enumerate(heard.messages):
        shown |= {message.big_word, message.length, message.sentence, message.why, message.caution,
                  *message.also, *message.troubles, message.count, message.warning, message.spoken,
                  message.advice_spoken, message.trouble_spoken, message.turn_spoken}  # fmt: skip
        page = page_message(message, cues, view)
        shown |= {page[key] for key in ("word", "length", "caution", "sentence", "count")}
        shown |= {page["warning"], *page["also"]}
        if n % 10 == 0:
            screen.draw(message)
    assert len(shown) > 10
    check("\n".join(filter(None, (*map(str, shown), *patches))))


def test_every_word_to_several_people(monkeypatch):
    heard, patches = Heard(), []
    patch = drawn_text.patch
    monkeypatch.setattr(drawn_text, "patch", lambda t, *of: patches.append(t) or patch(t, *of))

    def places(time_s):
        left_m = max(4.0, 6.5 - time_s)
        gone = 5.0 < time_s < 6.5
        return [(0.6, left_m), *([] if gone else [(-0.05 if time_s > 7.5 else -0.6, 4.0)])]

    set_up = set_up_for(statures_m=[1.69, 1.69])
    LiveRun(
        set_up, BlankSource(9), Placed(places, set_up), LiveOptions(window=False),
        listener=heard, say=Words(),
    ).run()  # fmt: skip
    screen = GuidanceScreen(set_up.focus_zone, ScreenOptions((640, 360)), Words())
    shown = set()
    for n, message in enumerate(heard.messages):
        shown |= {message.length, message.sentence, message.why, *message.also, message.spoken,
                  message.advice_spoken, message.who}  # fmt: skip
        if n % 10 == 0:
            screen.draw(message)
    assert len(shown) > 20
    check("\n".join(filter(None, (*map(str, shown), *patches))))


def test_the_words_of_the_second_screen_and_of_the_sounds():
    said = page_words(Words())
    check("\n".join(text for key, text in said.items() if key != "language"))
    check("\n".join(stop.name for stop in stops(Words())))


# -- the check -------------------------------------------------------------------------------------


def test_findings(run, monkeypatch):
    """What was found, whatever it is; a probe's own words are those of its own process."""
    bad = {
        probe: [test_check.ProbeResult("done", {}, "7"), test_check.ProbeResult("late", {}, "7")]
        for probe in test_check.GOOD
    }
    lacking = [("sound", lacks) for lacks in ("package", "library", "device")]
    lacking += [("speech", "engine"), ("tether", "binding"), ("model", "model")]
    for probe, lacks in lacking:
        bad[probe].append(test_check.ProbeResult("done", {}, "7", lacks))
    found = test_check.run()
    for probe, answers in bad.items():
        for seen in answers:
            found += test_check.run(**{probe: seen})
    for kind in ("linux", "windows", "other"):
        found += test_check.run(test_check.System(kind), which_feed=None, feed=test_check.NOT_THERE)
    monkeypatch.setattr(sequence, "run", lambda *_given, **_options: iter(found))
    _code, text = run("check")
    names = [one.named for one in found if one.named]
    check(text.replace('"self-portrait-assist[', " ["), *names, *OF_SYSTEMS)
    check("\n".join(sequence.missing([])))
