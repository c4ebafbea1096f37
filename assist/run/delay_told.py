"""How late a feed's pictures are, for whoever starts a run: what is assumed, and what is seen."""

from __future__ import annotations

import math
from collections.abc import Callable

from assist.base.words import _, current
from assist.feed import Frame
from assist.guidance.assistant import Known
from assist.guidance.guide import USUAL_AGE_S
from assist.setup.set_up import SetUp

_OLD_S = 0.4


def in_one_line(set_up: SetUp, known: Known) -> str:
    """The constant delay that a run goes by, and where it is from."""
    say, stated_s = current(), set_up.feed.delay_s
    if stated_s is not None:
        return _("the feed's delay is {delay} s, as stated", delay=say.figure(stated_s, 2))
    if known.feed is not None and known.feed.delay_s is not None:
        return _(
            "the feed's delay is {delay} s, as measured", delay=say.figure(known.feed.delay_s, 2)
        )
    return _(
        "the feed's delay is not known, {usual} s is assumed: a cable has as much, network streams "
        "often 0.2 to 2 s; assist calibrate delay measures it",
        usual=say.figure(USUAL_AGE_S, 1),
    )


class DelayRemarks:
    """Tells once, on the terminal, that pictures are old when they come. `note` takes the line."""

    def __init__(self, set_up: SetUp, known: Known, note: Callable[[str], None]) -> None:
        profile_s = None if known.feed is None else known.feed.delay_s
        self._constant_s = set_up.feed.delay_s or profile_s or 0.0
        self._note = note
        self._told = False

    def see(self, frame: Frame) -> None:
        """The next picture of a live feed."""
        behind_s = frame.age_s + frame.doubt_s
        if self._told or behind_s <= _OLD_S:
            return
        self._told = True
        self._note(self._line(behind_s))

    def _line(self, behind_s: float) -> str:
        if self._constant_s > _OLD_S:
            return _(
                "the feed's pictures come {delay} s late, too late to guide anybody: nothing will "
                "be called in focus. Lower the feed's resolution, use a cable, or set its sender "
                "to low latency, and measure its delay anew",
                delay=current().figure(self._constant_s, 1),
            )
        if math.isinf(behind_s):
            return _(
                "how old the feed's pictures are is not known: nothing is called in focus. "
                "If that goes on, its sender looks ahead (set it to low latency without B-frames, "
                "or measure its delay: assist calibrate delay), or the link is too slow for it "
                "(lower its resolution or pictures a second, or use a cable)"
            )
        return _(
            "the feed's pictures are late: the link or this computer is too slow for them. Nothing "
            "is called in focus while they are; lower the feed's resolution or pictures a second, "
            "or use a cable"
        )
