"""Colours of the guidance screen, blue green red. Each pair of text and ground keeps 7:1 or better.

Colour only repeats what word and sign already say. The hues are near those that Okabe and Ito
proposed for colour-blind readers ("Color Universal Design", 2008; from memory), lightened so that
black text on them reaches the contrast of WCAG 2.2, 1.4.6.
"""

from __future__ import annotations

from dataclasses import dataclass

from assist.guidance import Action

Colour = tuple[int, int, int]

INK: Colour = (16, 14, 12)
PAPER: Colour = (240, 240, 240)
GROUND: Colour = (34, 28, 24)
FAINT: Colour = (190, 184, 178)
ZONE: Colour = (170, 214, 92)
MOVE: Colour = (60, 178, 255)
STILL: Colour = (170, 226, 110)
DOUBT: Colour = (214, 208, 200)


@dataclass(frozen=True, slots=True)
class Pair:
    """Colour of the text and of the ground that it stands on."""

    text: Colour
    ground: Colour


ACTION: dict[Action, Pair] = {
    Action.FORWARD: Pair(INK, MOVE),
    Action.BACK: Pair(INK, MOVE),
    Action.AGAIN: Pair(INK, MOVE),
    Action.HOLD: Pair(INK, STILL),
    Action.STOP: Pair(INK, STILL),
    Action.NOT_SURE: Pair(INK, DOUBT),
    Action.NO_ONE: Pair(PAPER, GROUND),
    Action.NO_FEED: Pair(PAPER, GROUND),
}
"""The action panel."""

SIDE = Pair(PAPER, GROUND)
SIDE_FAINT = Pair(FAINT, GROUND)
PAIRS: tuple[Pair, ...] = (*ACTION.values(), SIDE, SIDE_FAINT)
