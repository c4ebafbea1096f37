"""Bars of a feed, found in its first pictures and cut off for as long as they are there."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import replace

from assist.base.images import ColourImage
from assist.feed import Frame, Source, Unfit
from assist.feed.bars import alike, of_both
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
from assist.feed.signed_bars import Framed, find_framed, in_full, small

_EVERY_S = 0.5
_SETTLED_EVERY_S = 1.0
"""How often it is looked whether a feed without bars has got some."""
_LEAST = 5
_MOST = 12
"""So many pictures are looked at: the fewest in which a feed that is sure can be, and the most, of
one that is dark at first."""
_GONE_AFTER = 2
"""So many looks in a row at lit bars end the cutting: one may be at a spoilt picture."""
_SEEN_AFTER = 2
"""So many looks in a row at bars that were not there before open the question anew."""
_LAST_WORD_S = 3.0

Found = Callable[[PictureArea, int, int], None]


def _untold(_area: PictureArea, _width_px: int, _height_px: int) -> None:
    """For bars in doubt of which nobody wants to know."""


class BarsWatch:
    """`Source` that hands out another's pictures, and looks at some of them.

    found: called when there are bars, with the picture between them and the feed's width and
    height. A camera's pictures are looked at, and `found` called, on a thread of their own, so that
    nothing is late for it; a file's at once, so that what comes of a file does not depend on the
    machine's speed.

    doubted: called in the same way when there seem to be bars, with signs or colours in them, and
    it cannot be settled. Pictures are handed out as unfit to be measured in from then on, until it
    is. Where merely some of the picture is dark, nothing is said and nothing cut.

    cuts: whether bars are cut off once they have been found. Until it is decided whether there are
    any, pictures that may have some are then handed out as unfit to be measured in. Otherwise
    nothing is withheld: what a personal profile was learned with may stay as it was.

    gone: called when there is light where the bars were, as when a camera changes what it puts out.
    The whole picture is handed out from then on, and bars are looked for until they are back. Of a
    feed that had none it is looked now and then whether it has got some.
    """

    def __init__(
        self,
        source: Source,
        found: Found,
        gone: Callable[[], None],
        doubted: Found = _untold,
        *,
        cuts: bool = True,
    ) -> None:
        self._source = source
        self._found = found
        self._gone = gone
        self._tell_doubt = doubted
        self._cuts = cuts
        self.live = source.live
        self.frames_expected = source.frames_expected
        self.rate_hz = source.rate_hz
        self._picked: queue.SimpleQueue[ColourImage | None] = queue.SimpleQueue()
        self._next_s: float | None = None
        self._undecided = cuts
        self._dark_edges = [dark_at_the_sides, dark_at_the_ends]
        self._seems = self._wary = False
        self._doubted = False
        self._lit = 0
        self._lost = False
        self._sure = False
        self._cut: tuple[PictureArea, int, int] | None = None
        self._coloured = False
        self._again: list[Framed] = []
        self._begin()
        self._thread = threading.Thread(target=self._look_beside, name="bars", daemon=True)

    def _begin(self) -> None:
        """Look for bars from now on."""
        self._left = _MOST
        self._looked = 0
        self._levels: list[Level] = []
        self._small: list[ColourImage] = []

    def read(self) -> Frame | None:
        """The next picture: as it came, or without the bars that were found."""
        frame = self._source.read()
        if frame is None or not is_picture(frame.picture):
            return frame
        if self._next_s is None or frame.time_s >= self._next_s:
            settled = self._sure and self._cut is None
            self._next_s = frame.time_s + (_SETTLED_EVERY_S if settled else _EVERY_S)
            self._now_and_then(frame.picture)
        undecided = self._undecided  # asked first: what there is to cut is there once it is false
        area = self._area_in(frame.picture)
        if area is not None:
            return part_of(frame, *area.box_px)
        if self._doubted:
            return replace(frame, unfit=Unfit.SIGNS)
        if undecided and self._may_have_bars(frame.picture):
            return replace(frame, unfit=Unfit.BARS)
        return frame

    def _may_have_bars(self, picture: ColourImage) -> bool:
        """Whether it seems so, or its edges are dark: in all pictures so far, or as bars were."""
        if self._seems:
            return True
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
        if self._cut is not None:
            self._look_at_bars(picture)
        elif self._sure or self._left > 0 or self._lost or self._doubted:
            self._left -= 1
            self._pick(picture)

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
        if self._cut is not None:
            return
        if self._sure:
            self._look_again(picture)
            return
        level, seen = brightest(picture), small(picture)
        if self._levels and level.shape != self._levels[0].shape:
            self._levels, self._small = [], []
        self._levels = [*self._levels[1 - _MOST :], level]
        self._small = [*self._small[1 - _LEAST :], seen]
        self._looked += 1
        framed = find_framed(self._small)
        self._seems = self._cuts and (framed is not None or self._wary)
        if len(self._levels) >= _LEAST:
            height, width = level.shape
            area = of_both(find_in_levels(self._levels), framed, seen, level)
            if isinstance(area, PictureArea):
                self._settle(area, width, height)
            elif area.seems is not None and self._cuts:
                if not self._doubted:
                    self._tell_doubt(area.seems, width, height)
                self._doubted = True
            elif framed is None:
                self._doubted = False
        if self._sure or (self._looked >= _MOST and not self._lost and not self._doubted):
            self._undecided = False

    def _settle(self, area: PictureArea, width_px: int, height_px: int) -> None:
        """What is known now: bars, or none; where they have been, they are waited for."""
        self._levels = []
        barred = (area.width_px, area.height_px) != (width_px, height_px)
        self._coloured = False
        if barred:
            self._found(area, width_px, height_px)
            if self._cuts:
                self._cut = (area, width_px, height_px)
        self._sure = barred or not self._lost
        self._doubted = self._wary = False

    # -- once it is known -------------------------------------------------------------------------

    def _look_again(self, picture: ColourImage) -> None:
        """Whether a feed without bars has got some."""
        if not self._cuts:
            return
        framed = find_framed([small(picture)])
        if framed is None:
            self._again = []
            return
        self._again = [*self._again, framed]
        if len(self._again) >= _SEEN_AFTER and alike(self._again[-2].area, framed.area):
            self._again = []
            self._begin()
            self._seems, self._undecided, self._sure = True, True, False

    def _look_at_bars(self, picture: ColourImage) -> None:
        """Whether the bars that are cut off are still there."""
        area = self._area_in(picture)
        if area is not None:
            there = not lit_outside(picture, area)
            if not there and self._framed_so(picture, area):
                there = self._coloured = True
            self._lit = 0 if there else self._lit + 1
        if self._lit != _GONE_AFTER:
            return
        self._lit, self._lost, self._sure, self._cut = 0, True, False, None
        if area is not None:
            sides, ends = area.width_px < picture.shape[1], area.height_px < picture.shape[0]
            were = {dark_at_the_sides: sides, dark_at_the_ends: ends}
            self._dark_edges = [dark for dark, there in were.items() if there]
        self._begin()
        # Bars of another colour than black, or full of signs, may be there and hard to see.
        self._seems = self._wary = self._coloured
        self._undecided = True
        self._gone()

    @staticmethod
    def _framed_so(picture: ColourImage, area: PictureArea) -> bool:
        """Whether the picture by itself shows those bars, with signs or colours in them."""
        seen = small(picture)
        framed = find_framed([seen])
        if framed is None:
            return False
        height, width = picture.shape[:2]
        return alike(in_full(framed.area, (seen.shape[1], seen.shape[0]), (width, height)), area)

    def close(self) -> None:
        """Close the source behind; what is already at hand is still looked at."""
        self._picked.put(None)
        if self._thread.is_alive():
            self._thread.join(_LAST_WORD_S)
        self._source.close()
