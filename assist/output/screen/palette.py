"""Themes: the colours of the guidance screen, blue green red.

Each pair of text and ground has a contrast of 7:1 or better (WCAG 2.2, 1.4.6). Colour only repeats
what word and sign already say. The hues are near those that Okabe and Ito proposed for colour-blind
readers ("Color Universal Design", 2008; from memory), lightened so that black text stands on them.
"""

from __future__ import annotations

from dataclasses import dataclass

from assist.guidance.guide import Action

Colour = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Pair:
    """Colour of the text and of the ground that it stands on."""

    text: Colour
    ground: Colour


@dataclass(frozen=True, slots=True)
class Theme:
    """A set of colours.

    ink, paper: the darkest and the lightest, for the figure in the picture.
    side, faint: words beside the picture, the important ones and the rest, on one ground.
    zone: the hatched zone of the strip.
    move, away, still, doubt, idle: the action panel; `away` is of whoever is sent away from the
    camera, mostly backwards.
    picture_gain: how bright the picture itself is shown, 1 as it is.
    """

    name: str
    ink: Colour
    paper: Colour
    side: Pair
    faint: Pair
    zone: Colour
    move: Pair
    away: Pair
    still: Pair
    doubt: Pair
    idle: Pair
    picture_gain: float = 1.0

    def action(self, action: Action) -> Pair:
        """Colours of the action panel."""
        if action in (Action.BACK, Action.AGAIN):
            return self.away
        if action in (Action.FORWARD, Action.REFRAME):
            return self.move
        if action in (Action.HOLD, Action.STOP):
            return self.still
        return self.doubt if action is Action.NOT_SURE else self.idle

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """Every text on its ground."""
        return (self.side, self.faint, self.move, self.away, self.still, self.doubt, self.idle)


_INK: Colour = (16, 14, 12)
_PAPER: Colour = (240, 240, 240)
_GROUND: Colour = (34, 28, 24)
_BLACK: Colour = (0, 0, 0)
_WHITE: Colour = (255, 255, 255)
_YELLOW: Colour = (0, 255, 255)

PLAIN = Theme(
    "plain",
    ink=_INK,
    paper=_PAPER,
    side=Pair(_PAPER, _GROUND),
    faint=Pair((190, 184, 178), _GROUND),
    zone=(170, 214, 92),
    move=Pair(_INK, (60, 178, 255)),
    away=Pair(_PAPER, (140, 60, 20)),
    still=Pair(_INK, (170, 226, 110)),
    doubt=Pair(_INK, (214, 208, 200)),
    idle=Pair(_PAPER, _GROUND),
)
# In sunlight the screen's own light is what little there is to see: as much of it as possible.
SUN = Theme(
    "sun",
    ink=_BLACK,
    paper=_WHITE,
    side=Pair(_BLACK, _WHITE),
    faint=Pair((70, 60, 50), _WHITE),
    zone=(60, 110, 0),
    move=Pair(_BLACK, (80, 205, 255)),
    away=Pair(_WHITE, (150, 50, 0)),
    still=Pair(_BLACK, (190, 255, 140)),
    doubt=Pair(_BLACK, (235, 235, 235)),
    idle=Pair(_BLACK, _WHITE),
    picture_gain=1.25,
)
# At night a bright screen blinds, and lights the person up: dim words on black, reddish, since red
# light spares eyes that are used to the dark. Common practice, no source.
NIGHT = Theme(
    "night",
    ink=_BLACK,
    paper=(135, 150, 195),
    side=Pair((135, 150, 195), _BLACK),
    faint=Pair((130, 142, 186), _BLACK),
    zone=(80, 110, 80),
    move=Pair((90, 150, 240), _BLACK),
    away=Pair((235, 165, 110), _BLACK),
    still=Pair((130, 175, 120), _BLACK),
    doubt=Pair((160, 160, 170), _BLACK),
    idle=Pair((135, 150, 195), _BLACK),
    picture_gain=0.45,
)
CONTRAST = Theme(
    "contrast",
    ink=_BLACK,
    paper=_WHITE,
    side=Pair(_WHITE, _BLACK),
    faint=Pair(_YELLOW, _BLACK),
    zone=_YELLOW,
    move=Pair(_BLACK, _YELLOW),
    away=Pair(_WHITE, (120, 20, 0)),
    still=Pair(_BLACK, _WHITE),
    doubt=Pair(_YELLOW, _BLACK),
    idle=Pair(_WHITE, _BLACK),
)
THEMES: dict[str, Theme] = {theme.name: theme for theme in (PLAIN, SUN, NIGHT, CONTRAST)}
