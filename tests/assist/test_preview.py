"""The window against a stand-in for OpenCV's; a real one is in `tests/assist/test_window.py`."""

import cv2
import numpy as np
import pytest

from assist.output import window as preview
from assist.output.window import PreviewWindow

CANVAS = np.zeros((36, 64, 3), np.uint8)


class Desktop:
    """One window of OpenCV's, as it behaves: showing a picture opens it where it is not.

    `coming`: what happens in the next calls of `waitKey`, a key or "close", or "" for nothing.
    """

    def __init__(self):
        self.open, self.opened, self.coming = False, 0, []
        self.error, self.INTER_NEAREST, self.resize = cv2.error, cv2.INTER_NEAREST, cv2.resize

    def __getattr__(self, name):
        return getattr(cv2, name) if name.isupper() else lambda *_: None

    def namedWindow(self, *_):  # noqa: N802
        self.open = True
        self.opened += 1

    def imshow(self, *_):
        if not self.open:
            self.namedWindow()

    def waitKey(self, _):  # noqa: N802
        happens = self.coming.pop(0) if self.coming else ""
        if happens == "close":
            self.open = False
            return -1
        return ord(happens) if happens else -1

    def getWindowProperty(self, *_):  # noqa: N802
        return 1.0 if self.open else -1.0

    def getWindowImageRect(self, *_):  # noqa: N802
        return (0, 0, 640, 360) if self.open else (-1, -1, -1, -1)


@pytest.fixture
def desktop(monkeypatch):
    stand_in = Desktop()
    monkeypatch.setattr(preview, "cv2", stand_in)
    return stand_in


@pytest.mark.parametrize("during_look", [False, True])
def test_a_window_closed_by_its_frame_stays_closed(desktop, during_look):
    window = PreviewWindow((640, 360))
    assert not window.closed
    assert window.show(CANVAS) == ""
    window.look()  # the first counts only
    desktop.coming = ["close"]
    if not during_look:
        window.show(CANVAS)
        assert window.closed
    window.look()
    assert desktop.coming == []
    assert window.show(CANVAS) == ""
    assert window.closed
    assert desktop.opened == 1


def test_no_key_is_lost_between_looking_and_showing(desktop):
    window = PreviewWindow((640, 360))
    window.show(CANVAS)
    window.look()
    desktop.coming = ["T", "m"]
    window.look()
    assert [window.show(CANVAS) for _ in range(3)] == ["t", "m", ""]


def test_looking_tells_the_windows_size(desktop):
    window = PreviewWindow((1280, 720))
    window.show(CANVAS)
    assert window.size_px == (1280, 720)
    window.look()
    window.look()
    assert window.size_px == (640, 360)
