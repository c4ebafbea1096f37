"""Pictures in the size in which they are shown, made while the pose network looks at them."""

from __future__ import annotations

import threading
import weakref

import cv2
import numpy as np

from assist.base.images import ColourImage

Size = tuple[int, int]


class Miniatures:
    """`make` and `of` may be called on different threads. Keeps no picture alive."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._made: list[tuple[weakref.ref[ColourImage], ColourImage]] = []
        self._wanted: tuple[Size, Size] | None = None

    def make(self, picture: ColourImage) -> None:
        """Make a picture's miniature ahead, in the size in which the last one was shown."""
        wanted = self._wanted
        if wanted is None or picture.shape[:2] != wanted[0]:
            return
        small = _shrunk(picture, wanted[1])
        with self._lock:
            # Those of pictures that nobody holds any more were passed over.
            self._made = [made for made in self._made if made[0]() is not None]
            self._made.append((weakref.ref(picture), small))

    def of(self, picture: ColourImage, size_px: Size) -> ColourImage:
        """A picture's miniature of that width and height; made now unless it is there already.

        It is the caller's to draw on.
        """
        height, width = picture.shape[:2]
        self._wanted = ((height, width), size_px)
        with self._lock:
            for at, (made_of, small) in enumerate(self._made):
                if made_of() is picture:
                    del self._made[at]
                    if small.shape[:2] == size_px[::-1]:
                        return small
                    break
        return _shrunk(picture, size_px)


def _shrunk(picture: ColourImage, size_px: Size) -> ColourImage:
    small: ColourImage = np.empty((size_px[1], size_px[0], 3), np.uint8)
    cv2.resize(picture, size_px, dst=small, interpolation=cv2.INTER_LINEAR)
    return small
