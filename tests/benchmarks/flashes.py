"""How often the guidance screen flashes: `python -m tests.benchmarks.flashes [--data FOLDER]`.

FOLDER holds what `python -m samples.rendering.walks` makes.

WCAG 2.2, 2.3.1 (three flashes or below threshold): a general flash is a pair of opposing changes of
relative luminance by a tenth or more where the darker is below 0.80; a red flash is a pair of
opposing changes involving a saturated red, R / (R + G + B) at 0.8 or more and a change of
(R - G - B) x 320 by more than 20. More than three in any second, over a quarter of any 341 x 256
pixels of a 1024 x 768 screen at once, is too many.

The screen of the live run over the shipped clip and the small ones, in all themes, and of words
that change at random with every picture, which is worse than any person; the feed's own picture is
left out, it is not ours. Judged in cells of 32 x 32 pixels of a 1024 wide screen: a flash anywhere
counts, however small, which is stricter. Kept as results/flashes.md.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.feed.video_file import VideoFileSource
from assist.guidance.countdown import TimerOptions
from assist.guidance.debounce import SteadyWord
from assist.guidance.guide import Action
from assist.guidance.message import Message
from assist.output.screen import palette
from assist.output.screen.screen import GuidanceScreen, ScreenOptions
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from assist.run.live import LiveOptions, LiveRun
from tests.assist.telling import ZONE
from tests.benchmarks.guidance_words import WALKS, set_up_of
from tests.benchmarks.tables import ROOT, keep, table

SIZE = (1024, 576)
CELL_PX = 32
MOST = 3
CLIPS = ("arm_ends_early", "child_walks_in", "rolls_in", "rolls_in_leg_ends_early")
"""Of the walks those that come along, as small clips."""
_DARK, _CHANGE = 0.80, 0.10
_RED, _RED_CHANGE = 0.8, 20.0
_BLACK: ColourImage = np.zeros((SIZE[1] // 2, SIZE[0] // 2, 3), np.uint8)


class FlashCount:
    """Counts flashes cell by cell over the pictures that it is shown."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._luminance: list[np.ndarray] = []
        self._redness: list[np.ndarray] = []

    def show(self, time_s: float, canvas: ColourImage) -> None:
        """The next picture of the screen."""
        rows, columns = canvas.shape[0] // CELL_PX, canvas.shape[1] // CELL_PX
        small = cv2.resize(canvas, (columns, rows), interpolation=cv2.INTER_AREA) / 255.0
        linear = np.where(small <= 0.04045, small / 12.92, ((small + 0.055) / 1.055) ** 2.4)
        blue, green, red = np.moveaxis(linear, -1, 0)
        self._times.append(time_s)
        self._luminance.append(0.2126 * red + 0.7152 * green + 0.0722 * blue)
        saturated = red >= _RED * np.maximum(red + green + blue, 1e-9)
        self._redness.append(np.where(saturated, np.maximum(red - green - blue, 0) * 320, 0.0))

    def most_in_a_second(self) -> tuple[float, float, float]:
        """General flashes in any second, in the worst cell and over what WCAG asks; red flashes.

        By WCAG they must fill a quarter of some 341 x 256 pixels at once: told is what a quarter of
        such a block's cells reach, though not all in the same second, so it is rather too much.
        """
        times = np.array(self._times)
        general = np.array(self._luminance).reshape(len(times), -1)
        red = np.array(self._redness).reshape(len(times), -1)
        cells = np.array([_flashes(times, column, _CHANGE, _DARK) for column in general.T])
        return (
            float(cells.max()),
            _over_a_quarter(cells.reshape(self._luminance[0].shape)),
            max(_flashes(times, column, _RED_CHANGE, np.inf) for column in red.T),
        )


def _over_a_quarter(cells: np.ndarray) -> float:
    """The most that a quarter of the cells of any block of 341 x 256 pixels reach."""
    high, wide = (min(px // CELL_PX, n) for px, n in zip((256, 341), cells.shape, strict=True))
    blocks = np.lib.stride_tricks.sliding_window_view(cells, (high, wide))
    return float(np.quantile(blocks.reshape(-1, high * wide), 0.75, axis=1, method="higher").max())


def _flashes(times: np.ndarray, values: np.ndarray, change: float, dark: float) -> float:
    """The most pairs of opposing changes within any second."""
    turns: list[float] = []
    extreme, direction = values[0], 0
    for time_s, value in zip(times, values, strict=True):
        step = value - extreme
        if direction * step > 0:
            extreme = value
        elif abs(step) >= change and min(value, extreme) < dark:
            turns.append(time_s)
            extreme, direction = value, 1 if step > 0 else -1
    most = 0
    for first, begin_s in enumerate(turns):
        most = max(most, sum(time_s - begin_s < 1.0 for time_s in turns[first:]))
    return most / 2


def messages_of(clip: Path, camera: Path) -> list[Message]:
    """What a run tells over a clip, with a timer that ends within it."""
    told: list[Message] = []

    class Ear:
        def hear(self, message: Message) -> None:
            bare = replace(message.moment.frame, picture=_BLACK)
            told.append(replace(message, moment=replace(message.moment, frame=bare, pose=None)))

        def close(self) -> None:
            pass

    source = VideoFileSource(clip)
    length_s = (source.frames_expected or 0) / source.rate_hz
    options = LiveOptions(window=False, timer=TimerOptions(max(1.0, length_s - 1.0)))
    with MediaPipePoseDetector() as detector:
        set_up = set_up_of(json.loads(camera.read_text(encoding="utf-8")))
        LiveRun(set_up, source, detector, options, listener=Ear()).run()
    return told


def at_random(message: Message, seconds: float = 20.0, rate_hz: float = 25.0) -> list[Message]:
    """Words that change at random with every picture, through the pacer."""
    rng, steady, told = np.random.default_rng(3), SteadyWord(), []
    actions = list(Action)
    for index in range(round(seconds * rate_hz)):
        time_s = index / rate_hz
        right = actions[rng.integers(len(actions))] if index % 3 else actions[index // 3 % 2 + 2]
        word = steady.update(time_s, right)
        guidance = replace(message.moment.guidance, action=word)
        told.append(replace(message, time_s=time_s,
                            moment=replace(message.moment, guidance=guidance)))  # fmt: skip
    return told


def flashes(told: Sequence[Message], theme: palette.Theme) -> tuple[float, float, float]:
    """General and red flashes a second of the screen that tells these messages."""
    screen = GuidanceScreen(ZONE, ScreenOptions(SIZE, theme=theme))
    count = FlashCount()
    for message in told:
        count.show(message.time_s, screen.draw(message))
    return count.most_in_a_second()


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, help="folder with all walks")
    data = parser.parse_args().data
    samples = demo.sample_folder()
    places = [("shipped clip", samples / demo.CLIP, ROOT / "samples" / "walk.camera.json")]
    folder, names = (ROOT / "tests" / "assist" / "data", CLIPS) if data is None else (data, WALKS)
    places += [(name, folder / f"{name}.mp4", folder / f"{name}.camera.json") for name in names]
    runs = {name: messages_of(clip, camera) for name, clip, camera in places}
    runs["words at random"] = at_random(runs["shipped clip"][250])
    rows = []
    for name, told in runs.items():
        words = [message.action for message in told]
        changes = [
            message.time_s
            for before, message in zip(words, told[1:], strict=False)
            if message.action is not before
        ]
        most = max((sum(0 <= t - begin < 1 for t in changes) for begin in changes), default=0)
        found = [flashes(told, theme) for theme in palette.THEMES.values()]
        rows.append(
            [name, str(most)] + [f"{cell:g} / {block:g} / {red:g}" for cell, block, red in found]
        )
    keep(
        "flashes",
        "# Flashes of the guidance screen\n\nGeneral flashes in the worst second of the worst cell "
        "of 32 x 32 pixels / over a quarter of some 341 x 256 pixels, which is what WCAG 2.2, "
        "2.3.1, limits to three / red flashes in the worst cell.\n\n"
        + table(["", "changes of the word in the worst second", *palette.THEMES], rows),
    )


if __name__ == "__main__":
    main()
