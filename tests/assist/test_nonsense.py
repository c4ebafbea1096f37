"""Every option of every command, given what nobody means: never a traceback, never two lines.

The commands run to their end where the value is one after all: a folder of small pictures stands in
for the feed, and no one is in them.
"""

import cv2
import numpy as np
import pytest

from assist.base.closing import Closing
from assist.calibrate import at_marks
from assist.pose import PoseDetector
from assist.review import reviewing
from assist.run import demo, opening, repeating
from tests.assist.command_lines import every_command, is_group
from tests.assist.test_cli import run

NONSENSE = ("abc", "nan", "-1", "1e308", "9" * 400)
LENS = ("--lens", "35mm", "--aperture", "f/2", "--focus", "4m")
RUN = ("pictures", *LENS, "--through", "taking-lens", "--no-window")
FEED_PROFILE = ("--out", "new.toml", "--replace")
OTHERWISE = {
    "plan": LENS,
    "live": RUN,
    "rehearse": RUN,
    "sounds": ("--output", "sounds.wav"),
    "demo": ("--no-window", "--output", "demo"),
    "review": ("pictures/0.png",),
    "report": ("nowhere",),
    "calibrate lens": ("pictures", "--lens", "35mm", "--focus", "4m", *FEED_PROFILE),
    "calibrate view": ("pictures", "--horizontal", "70deg", *FEED_PROFILE),
    "calibrate mark": ("pictures", "--at", "3m", *FEED_PROFILE),
    "calibrate board": ("pictures", *FEED_PROFILE),
    "calibrate focus": (*RUN, "--trigger", "tether"),
    "calibrate delay": ("pictures", "--no-window"),
    "calibrate print-board": ("board.png",),
    "sessions list": (),
    "sessions show": ("nowhere",),
    "sessions export": ("nowhere",),
    "guide": (),
}
"""What each command is given besides. `check` is left out: it tries the machine's devices; and
`page`, which would serve."""
NOT_TRIED = {"--on-fire"}
"""What is given there is run."""


class NoOne(PoseDetector, Closing):
    """A pose network that finds nobody."""

    def __init__(self, *_, **__):
        pass

    def detect(self, picture, time_s):
        return []

    def close(self):
        pass


def commands():
    for words, command in every_command():
        if not is_group(command) and words[-1] not in ("check", "page"):
            yield pytest.param(" ".join(words[1:]), command, id=" ".join(words[1:]))


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for module in (at_marks, demo, reviewing, opening, repeating):
        monkeypatch.setattr(module, "MediaPipePoseDetector", NoOne)
    (tmp_path / "pictures").mkdir()
    ramp = np.tile(np.linspace(60, 200, 64, dtype=np.uint8)[None, :, None], (36, 1, 3))
    for k in range(3):
        cv2.imwrite(str(tmp_path / "pictures" / f"{k}.png"), ramp + np.uint8(k))
    return tmp_path


def valued(command):
    """Names of the options that take a value."""
    for parameter in command.params:
        names = [name for name in parameter.opts if name.startswith("--")]
        if names and not getattr(parameter, "is_flag", False):
            yield names[-1]


def without(option, words):
    """The words less an option and its value."""
    if option not in words:
        return words
    at = words.index(option)
    return words[:at] + words[at + 2 :]


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize(("name", "command"), list(commands()))
def test_no_option_brings_a_command_down(here, capsys, monkeypatch, name, command):
    for option in set(valued(command)) - NOT_TRIED:
        for value in NONSENSE:
            words = (*name.split(), *without(option, OTHERWISE[name]), f"{option}={value}")
            code, _, err = run(capsys, monkeypatch, *words)
            lines = err.strip().splitlines()
            assert "Traceback" not in err, words
            assert code in (0, 1, 2), words
            assert code != 2 or lines[-1].startswith("assist: "), words
            assert max(map(len, lines), default=0) < 700, words
