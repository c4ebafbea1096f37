"""Which trouble is told of now, and for how long; by the clock passed in."""

from __future__ import annotations

from dataclasses import dataclass

from assist.base.trouble import Trouble

MOST_SHOWN = 2
SHOWN_S = 6.0
"""How long trouble is told of; what lasts stays on as a faint line."""


@dataclass(frozen=True, slots=True)
class TroublesNow:
    """Trouble to be told of at one moment.

    fresh: what has just failed, the newest last.   lasting: what goes on until it is mended.
    """

    fresh: tuple[Trouble, ...] = ()
    lasting: tuple[Trouble, ...] = ()


NO_TROUBLES = TroublesNow()


class TroublesShown:
    """Remembers what failed. Safety warnings keep their own place beside it."""

    def __init__(self) -> None:
        self._until_s: dict[Trouble, float] = {}
        self._lasting: list[Trouble] = []

    def add(self, trouble: Trouble, time_s: float) -> None:
        """Tell of this from now on, and no longer of what it mends."""
        if trouble.mends is not None:
            self._until_s.pop(trouble.mends, None)
            self._lasting = [lasting for lasting in self._lasting if lasting is not trouble.mends]
        if trouble.lasts and trouble not in self._lasting:
            self._lasting.append(trouble)
        self._until_s.pop(trouble, None)  # the newest comes last
        self._until_s[trouble] = time_s + SHOWN_S

    def at(self, time_s: float) -> TroublesNow:
        """What is to be told of now."""
        if not self._until_s and not self._lasting:
            return NO_TROUBLES
        self._until_s = {t: until_s for t, until_s in self._until_s.items() if time_s <= until_s}
        fresh = tuple(self._until_s)[-MOST_SHOWN:]
        return TroublesNow(fresh, tuple(t for t in self._lasting if t not in fresh))
