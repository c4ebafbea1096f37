"""The window, where there is a display."""

from __future__ import annotations

import cv2

from assist.errors import UserError
from assist.pose import ColourImage

_TITLE = "Self-portrait assistant"


class PreviewWindow:
    """One resizable window. A context manager."""

    def __init__(self, size_px: tuple[int, int], at_px: tuple[int, int] | None = None) -> None:
        self._size_px = size_px
        self._next_look = 0
        try:
            # Free of the picture's proportions: the screen is laid out anew for the window's own.
            cv2.namedWindow(
                _TITLE, cv2.WINDOW_NORMAL | cv2.WINDOW_FREERATIO | cv2.WINDOW_GUI_NORMAL
            )
            cv2.resizeWindow(_TITLE, *size_px)
            if at_px is not None:
                cv2.moveWindow(_TITLE, *at_px)
        except cv2.error as error:
            raise UserError("no window can be opened here: use --no-window") from error
        self._full = False
        self._shown = False

    def show(self, canvas: ColourImage) -> str:
        """Show the picture; the key pressed since the last call, "" for none."""
        cv2.imshow(_TITLE, canvas)
        self._shown = True
        code = cv2.waitKey(1) & 0xFF
        return "" if code == 0xFF else "escape" if code == 27 else chr(code).lower()

    @property
    def size_px(self) -> tuple[int, int]:
        """Size of the picture's area in the window; asked of the system every tenth time."""
        self._next_look -= 1
        if self._shown and self._next_look <= 0:
            self._next_look = 10
            try:
                _, _, width, height = cv2.getWindowImageRect(_TITLE)
            except cv2.error:
                return self._size_px
            if width > 0 and height > 0:
                self._size_px = (width, height)
        return self._size_px

    @property
    def closed(self) -> bool:
        """Whether the user closed it by its frame."""
        if not self._shown:
            return False
        try:
            return cv2.getWindowProperty(_TITLE, cv2.WND_PROP_VISIBLE) < 1
        except cv2.error:
            return True

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
