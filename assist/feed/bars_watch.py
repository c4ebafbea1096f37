"""Black bars of a feed, found in its first pictures and cut off for as long as they are there."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import replace

from assist.base.images import ColourImage
from assist.feed import Frame, Source, Unfit
from assist.feed.black_bars import (
    Level,
    PictureArea,
    brightest,
    dark_at_the_ends,
    dark_at_the_sides,
    find_in_levels,
    lit_outside,
)
from assist.feed.cropped import part_of
from assist.feed.screening import is_picture

_EVERY_S = 0.5
_LEAST = 5
_MOST = 12
"""So many pictures are looked at: the fewest in which a feed that is sure can be, and the most, of
one that is dark at first."""
_GONE_AFTER = 2
"""So many looks in a row at lit bars end the cutting: one may be at a spoilt picture."""
_LAST_WORD_S = 3.0

Found = Callable[[PictureArea, int, int], None]


class BarsWatch:
    """`Source` that hands out another's pictures, and looks at a few of the first.

    found: called when there are black bars, with the picture between them and the feed's width and
    height. Where it is not sure whether there are bars, nothing is said and nothing cut. A camera's
    pictures are looked at, and `found` called, on a thread of their own, so that nothing is late
    for it; a file's at once, so that what comes of a file does not depend on the machine's speed.

    cuts: whether bars are cut off once they have been found. Until it is decided whether there are
    any, pictures that may have some are then handed out as unfit to be measured in.

    gone: called when there is light where the bars were, as when a camera changes what it puts out.
    The whole picture is handed out from then on, and bars are looked for until they are back.
    """

    def __init__(
        self, source: Source, found: Found, gone: Callable[[], None], *, cuts: bool = True
    ) -> None:
        self._source = source
        self._found = found
        self._gone = gone
        self._cuts = cuts
        self.live = source.live
        self.frames_expected = source.frames_expected
        self.rate_hz = source.rate_hz
        self._picked: queue.SimpleQueue[ColourImage | None] = queue.SimpleQueue()
        self._next_s: float | None = None
        self._left = _MOST
        self._looked = 0
        self._undecided = cuts
        self._dark_edges = [dark_at_the_sides, dark_at_the_ends]
        self._lit = 0
        self._lost = False
        self._levels: list[Level] = []
        self._sure = False
        self._cut: tuple[PictureArea, int, int] | None = None
        self._thread = threading.Thread(target=self._look_beside, name="bars", daemon=True)

    def read(self) -> Frame | None:
        """The next picture: as it came, or without the bars that were found."""
        frame = self._source.read()
        if frame is None or not is_picture(frame.picture):
            return frame
        if self._next_s is None or frame.time_s >= self._next_s:
            self._next_s = frame.time_s + _EVERY_S
            self._now_and_then(frame.picture)
        undecided = self._undecided  # asked first: what there is to cut is there once it is false
        area = self._area_in(frame.picture)
        if area is not None:
            return part_of(frame, *area.box_px)
        if undecided and self._may_have_bars(frame.picture):
            return replace(frame, unfit=Unfit.BARS)
        return frame

    def _may_have_bars(self, picture: ColourImage) -> bool:
        """Whether its edges are dark: in all pictures so far, or where bars have been before."""
        if self._lost:
            return any(dark(picture) for dark in self._dark_edges)
        self._dark_edges = [dark for dark in self._dark_edges if dark(picture)]
        return bool(self._dark_edges)

    def _area_in(self, picture: ColourImage) -> PictureArea | None:
        """What is to be cut out of the picture; a feed that has changed its size is another."""
        if self._cut is None:
            return None
        area, *size_px = self._cut
        return area if size_px == [picture.shape[1], picture.shape[0]] else None

    def _now_and_then(self, picture: ColourImage) -> None:
        """Have the picture looked at, as long as there is a question."""
        if self._cut is None:
            if (self._left > 0 or self._lost) and not self._sure:
                self._left -= 1
                self._pick(picture)
            return
        area = self._area_in(picture)
        if area is not None:
            self._lit = self._lit + 1 if lit_outside(picture, area) else 0
        if self._lit == _GONE_AFTER:
            self._lit, self._lost, self._sure, self._cut = 0, True, False, None
            if area is not None:
                sides, ends = area.width_px < picture.shape[1], area.height_px < picture.shape[0]
                were = {dark_at_the_sides: sides, dark_at_the_ends: ends}
                self._dark_edges = [dark for dark, there in were.items() if there]
            self._undecided = True
            self._gone()

    def _pick(self, picture: ColourImage) -> None:
        if not self.live:
            self._look(picture)
            return
        if self._thread.ident is None:
            self._thread.start()
        self._picked.put(picture)

    def _look_beside(self) -> None:
        while (picture := self._picked.get()) is not None:
            self._look(picture)

    def _look(self, picture: ColourImage) -> None:
        if self._sure:
            return
        level = brightest(picture)
        if self._levels and level.shape != self._levels[0].shape:
            self._levels = []
        self._levels = [*self._levels[1 - _MOST :], level]
        self._looked += 1
        if len(self._levels) >= _LEAST:
            area = find_in_levels(self._levels)
            if isinstance(area, PictureArea):
                self._settle(area, level.shape[1], level.shape[0])
        if self._sure or (self._looked >= _MOST and not self._lost):
            self._undecided = False

    def _settle(self, area: PictureArea, width_px: int, height_px: int) -> None:
        """What is known now: bars, or none; where they have been, they are waited for."""
        self._levels = []
        barred = (area.width_px, area.height_px) != (width_px, height_px)
        self._sure = barred or not self._lost
        if barred:
            self._found(area, width_px, height_px)
            if self._cuts:
                self._cut = (area, width_px, height_px)

    def close(self) -> None:
        """Close the source behind; what is already at hand is still looked at."""
        self._picked.put(None)
        if self._thread.is_alive():
            self._thread.join(_LAST_WORD_S)
        self._source.close()
