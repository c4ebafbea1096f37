"""How high words are for whoever must read them: `python -m tests.benchmarks.legibility`.

Every word of the guidance, with what stands beside it, drawn by the guidance screen in all themes,
both languages, upright and across, 720p to 2160p, on a 13-inch screen that is read from where the
person stands. From the drawn pixels: the height of the ink of a capital H in the size in which each
line was set, in minutes of arc. Kept as results/legibility.md.

The least: 22 for the big word, 16 for every sentence that moves or warns (ISO 9241-303, from
memory), 10 for the rest (twice the smallest letter of normal sight; common practice, no source).
What stands only for whoever is at the computer, the line of keys, is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from unittest import mock

import numpy as np

from assist.base.images import ColourImage
from assist.base.words import Words
from assist.distance import TrackedDistance
from assist.feed import Frame
from assist.guidance.advice import CutOff, Sideways
from assist.guidance.assistant import Moment
from assist.guidance.countdown import CountdownState
from assist.guidance.guide import Action, Guidance, Guide, Unmeasured
from assist.guidance.message import Message
from assist.guidance.narrator import Narrator
from assist.guidance.verdict import Judge
from assist.output.screen import palette, text
from assist.output.screen.layout import DEFAULT_DIAGONAL_M
from assist.output.screen.screen import GuidanceScreen, ScreenOptions
from assist.pose.person_state import PersonState
from assist.setup.body import Posture
from optics.focus_zone import FocusZone
from tests.benchmarks.tables import keep, table

ZONE = FocusZone(3.5, 4.1, 4.9)
SIZES = ((1280, 720), (720, 1280), (1920, 1080), (3840, 2160), (2160, 3840))
LANGUAGES = ("en", "de")
FARTHEST_M = 5.0
LEAST = {"big word": 22.0, "moves or warns": 16.0, "the rest": 10.0}
_FAR = CountdownState(8.2, 9, False)
_NEAR = CountdownState(2.2, 3, False, warning=True)


@dataclass(frozen=True)
class Shown:
    """One line on the screen: its kind, its words, and how high its capitals are, arc minutes."""

    kind: str
    words: str
    arc_minutes: float


def guidances() -> Iterator[tuple[Guidance, float | None, CountdownState | None]]:
    """What can be told to somebody up to five metres away, and where they are."""
    for facing in (True, False):
        person = PersonState(posture=Posture.STANDING, faces_camera=facing, facing_known=True)
        for place_m, action in (
            (2.0, None), (3.0, None), (5.0, None), (4.1, Action.HOLD), (3.3, Action.STOP),
            (3.2, Action.NOT_SURE), (5.0, Action.NOT_SURE), (2.6, Action.AGAIN),
        ):  # fmt: skip
            assessment = Judge(ZONE).judge(TrackedDistance(0.0, place_m, 0.1, 0.0, 0.0))
            for timer in (None, _FAR, _NEAR):
                yield Guide(ZONE).guide(assessment, person, action), place_m, timer
    assessment = Judge(ZONE).judge(TrackedDistance(0.0, 4.2, 0.1, 0.0, 0.0))
    for advice in (Sideways(0.8, False), Sideways(-0.8, True), CutOff(("head",)),
                   CutOff(("head", "feet"))):  # fmt: skip
        yield Guide(ZONE).guide(assessment, action=Action.REFRAME, advice=(advice,)), 4.2, _FAR
    for state in (Unmeasured.MEASURING, Unmeasured.LITTLE_SEEN, Unmeasured.TOO_SMALL,
                  Unmeasured.LEARNING_MARK):  # fmt: skip
        yield Guide(ZONE).unmeasured(state), FARTHEST_M, None


def shown(
    message: Message, size: tuple[int, int], theme: palette.Theme, say: Words, place_m: float
) -> list[Shown]:
    """Each line that the screen draws of a message, read from that distance."""
    lines: list[Shown] = []
    screen = GuidanceScreen(ZONE, ScreenOptions(size, theme=theme), say)
    screen.draw(message)
    screen._shown_action = screen._shown_side = None
    pitch_m = DEFAULT_DIAGONAL_M / math.hypot(*size)
    make = text.patch

    def measured(words: str, cap_px: int, width_px: int, pair: palette.Pair) -> ColourImage:
        made = make(words, cap_px, width_px, pair)
        # By how much the line was made smaller than asked for, from its ink.
        whole = make(words, cap_px, 10**6, pair)
        height_m = cap_px * made.shape[0] / whole.shape[0] * pitch_m
        kind = (
            "big word" if words == message.big_word
            else "the rest" if words in (message.count, message.why) or pair == theme.faint
            else "moves or warns"
        )  # fmt: skip
        arc = math.degrees(math.atan(height_m / place_m)) * 60
        lines.append(Shown(kind, words, arc))
        return made

    with mock.patch.object(text, "patch", measured):
        screen.draw(message)
    return lines


def main() -> None:
    """Measure, print, keep."""
    picture = np.zeros((720, 1280, 3), np.uint8)
    rows, smallest = [], []
    for language in LANGUAGES:
        say = Words(language)
        narrator = Narrator(ZONE, say)
        for size in SIZES:
            for theme in palette.THEMES.values():
                found: dict[str, list[Shown]] = {kind: [] for kind in LEAST}
                for guidance, place_m, timer in guidances():
                    at = None if place_m is None else TrackedDistance(0, place_m, 0.1, 0, 0)
                    judged = Judge(ZONE).judge(None if guidance.unmeasured else at)
                    moment = Moment(Frame(picture, 0.0, 0), None, None, judged, guidance, None)
                    told = narrator.tell(moment, timer)
                    for line in shown(told, size, theme, say, place_m or FARTHEST_M):
                        found[line.kind].append(line)
                rows.append(
                    [language, f"{size[0]} x {size[1]}", theme.name]
                    + [
                        f"{min(line.arc_minutes for line in lines):.1f} "
                        f"({sum(line.arc_minutes < LEAST[kind] - 0.05 for line in lines)} of "
                        f"{len(lines)} below)"
                        for kind, lines in found.items()
                    ]
                )
                if theme is palette.PLAIN:
                    smallest += [
                        (language, size, line)
                        for kind, lines in found.items()
                        for line in lines
                        if line.arc_minutes < LEAST[kind] - 0.05
                    ]
    told_below = sorted({f"{a}, {s[0]} x {s[1]}: {x.words} ({x.arc_minutes:.1f})"
                         for a, s, x in smallest})  # fmt: skip
    keep(
        "legibility",
        "# Height of the words for whoever must read them\n\n"
        "A 13-inch screen read from where the person stands, up to 5 m away; least height of a "
        "capital letter in minutes of arc, and how many lines are below what they must be.\n\n"
        + table(
            [
                "language",
                "screen",
                "theme",
                *(f"{kind}: {least:.0f}" for kind, least in LEAST.items()),
            ],
            rows,
        )
        + "\nBelow, in the plain theme:\n\n"
        + "".join(f"- {line}\n" for line in told_below),
    )


if __name__ == "__main__":
    main()
