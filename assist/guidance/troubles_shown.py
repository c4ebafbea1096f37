"""Which trouble is on the screen, and for how long; by the clock passed in."""

from __future__ import annotations

from dataclasses import replace

from assist.base.phrases import Phrases
from assist.base.trouble import Trouble
from assist.guidance.guide import Guidance

MOST_SHOWN = 2
SHOWN_S = 6.0
"""How long trouble is told of; what lasts stays on as a faint line."""


class TroublesShown:
    """Adds trouble to the guidance. Safety warnings keep their own place beside it."""

    def __init__(self, phrases: Phrases) -> None:
        self._say = phrases
        self._until_s: dict[Trouble, float] = {}
        self._lasting: list[Trouble] = []

    def add(self, trouble: Trouble, time_s: float) -> None:
        """Show this from now on."""
        if trouble.lasts and trouble not in self._lasting:
            self._lasting.append(trouble)
        self._until_s.pop(trouble, None)  # the newest comes last
        self._until_s[trouble] = time_s + SHOWN_S

    def over(self, guidance: Guidance, time_s: float) -> Guidance:
        """The guidance with what is to be told now."""
        self._until_s = {t: until_s for t, until_s in self._until_s.items() if time_s <= until_s}
        shown = list(self._until_s)[-MOST_SHOWN:]
        lasting = [t for t in self._lasting if t not in shown]
        if not shown and not lasting:
            return guidance
        return replace(
            guidance,
            trouble="\n".join(self._say.text(f"trouble.{t.value}") for t in shown),
            trouble_spoken=" ".join(self._say.text(f"spoken.trouble_{t.value}") for t in shown),
            also=(*guidance.also, *(self._say.text(f"trouble.{t.value}") for t in lasting)),
        )
