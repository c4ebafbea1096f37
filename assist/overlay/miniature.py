"""Pictures in the size in which they are shown, made while the pose network looks at them."""

from __future__ import annotations

import threading
from collections import deque

import cv2
import numpy as np

from assist.pose import ColourImage

_KEPT = 8
"""As many as can be between being read and being shown: a file is read a few pictures ahead."""

Size = tuple[int, int]


class Miniatures:
    """`make` and `of` may be called on different threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._made: deque[tuple[ColourImage, ColourImage]] = deque(maxlen=_KEPT)
        self._wanted: tuple[Size, Size] | None = None

    def make(self, picture: ColourImage) -> None:
        """Make a picture's miniature ahead, in the size in which the last one was shown."""
        wanted = self._wanted
        if wanted is None or picture.shape[:2] != wanted[0]:
            return
        small = _shrunk(picture, wanted[1])
        with self._lock:
            self._made.append((picture, small))

    def of(self, picture: ColourImage, size_px: Size) -> ColourImage:
        """A picture's miniature of that width and height; made now unless it is there already.

        It is the caller's to draw on. Those made before it are let go: they were passed over.
        """
        height, width = picture.shape[:2]
        self._wanted = ((height, width), size_px)
        with self._lock:
            if any(made_of is picture for made_of, _ in self._made):
                while (made := self._made.popleft())[0] is not picture:
                    pass
                small = made[1]
                if small.shape[:2] == size_px[::-1]:
                    return small
        return _shrunk(picture, size_px)


def _shrunk(picture: ColourImage, size_px: Size) -> ColourImage:
    small: ColourImage = np.empty((size_px[1], size_px[0], 3), np.uint8)
    cv2.resize(picture, size_px, dst=small, interpolation=cv2.INTER_LINEAR)
    return small
