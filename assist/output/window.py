"""The window, where there is a display."""

from __future__ import annotations

import cv2
import numpy as np

from assist.base.closing import Closing
from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import _

_TITLE = "Self-portrait assistant"
_LOOK_EVERY = 15
_PROBE = 1.25
_SETTLING_MS = 80
"""What a new window gets to come on the screen before anything else is begun."""


def _pressed() -> str:
    """The key pressed, "" for none; the window is painted meanwhile."""
    code = cv2.waitKey(1) & 0xFF
    return "" if code == 0xFF else "escape" if code == 27 else chr(code).lower()


class PreviewWindow(Closing):
    """One resizable window. A context manager.

    Open it before the feed and the network begin: on X11 without a window manager the toolkit loses
    a new window's first events now and then while the processor is busy, and never paints it then.
    """

    def __init__(self, size_px: tuple[int, int], at_px: tuple[int, int] | None = None) -> None:
        self._size_px = size_px
        self._next_look = 2
        try:
            # Free of the picture's proportions: the screen is laid out anew for the window's own.
            cv2.namedWindow(
                _TITLE, cv2.WINDOW_NORMAL | cv2.WINDOW_FREERATIO | cv2.WINDOW_GUI_NORMAL
            )
            cv2.resizeWindow(_TITLE, *size_px)
            if at_px is not None:
                if at_px == (0, 0):
                    # There the toolkit believes a new window to be already: a move to where it is
                    # would be none, and the window manager would choose the place.
                    cv2.moveWindow(_TITLE, 1, 1)
                cv2.moveWindow(_TITLE, *at_px)
            cv2.waitKey(_SETTLING_MS)
        except cv2.error as error:
            raise UserError(_("no window can be opened here: use --no-window")) from error
        self._full = False
        self._shown = False
        self._gone = False
        self._canvas: ColourImage | None = None
        self._key = ""
        """Pressed while the window was looked at; told with the next picture."""

    def show(self, canvas: ColourImage) -> str:
        """Show the picture; the key pressed since the last call, "" for none.

        A window that the user has closed is not opened anew.
        """
        if self.closed:
            return ""
        self._canvas = canvas
        cv2.imshow(_TITLE, canvas)
        self._shown = True
        early, self._key = self._key, ""
        pressed = _pressed()
        if early:
            self._key = pressed
        return early or pressed

    def look(self) -> None:
        """See, every now and then, how large the window is; to be called when nothing is urgent.

        It takes some milliseconds, for the picture is shown once more.
        """
        self._next_look -= 1
        if self._next_look > 0 or self._canvas is None or self.closed:
            return
        cv2.imshow(_TITLE, self._larger(self._canvas))
        self._key = _pressed() or self._key
        self._measure(self._canvas)

    @staticmethod
    def _larger(canvas: ColourImage) -> ColourImage:
        """The same, larger, which looks the same in the window.

        The library never shows a picture larger than it is, however large the window: only one
        that is too large for the window tells the window's size.
        """
        return np.asarray(
            cv2.resize(canvas, None, fx=_PROBE, fy=_PROBE, interpolation=cv2.INTER_NEAREST),
            dtype=np.uint8,
        )

    def _measure(self, canvas: ColourImage) -> None:
        """See how large the picture has become in the window."""
        self._next_look = _LOOK_EVERY
        try:
            _, _, width, height = cv2.getWindowImageRect(_TITLE)
        except cv2.error:
            return
        if width > 0 and height > 0:
            if width > canvas.shape[1] or height > canvas.shape[0]:
                self._next_look = 2  # there may be room for more still
            self._size_px = (width, height)

    @property
    def size_px(self) -> tuple[int, int]:
        """Size of the picture's area in the window; looked at every now and then."""
        return self._size_px

    @property
    def closed(self) -> bool:
        """Whether the user closed it by its frame."""
        if self._shown and not self._gone:
            try:
                self._gone = cv2.getWindowProperty(_TITLE, cv2.WND_PROP_VISIBLE) < 1
            except cv2.error:
                self._gone = True
        return self._gone

    def toggle_full_screen(self) -> None:
        """Full screen and back."""
        self._full = not self._full
        cv2.setWindowProperty(
            _TITLE,
            cv2.WND_PROP_FULLSCREEN,
            cv2.WINDOW_FULLSCREEN if self._full else cv2.WINDOW_NORMAL,
        )

    def close(self) -> None:
        """Take the window away; safe to call twice."""
        try:
            cv2.destroyWindow(_TITLE)
        except cv2.error:
            return
        cv2.waitKey(1)
