"""Feeds without anybody in them, and a detector that sees an exact body at a chosen distance."""

import threading
import time

import numpy as np

from assist.feed import Frame
from assist.pose import PoseDetector
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import from_values
from tests.assist.synthetic import standing_pose

SET_UP = from_values(
    {
        "lens": {"focal_length_mm": 35, "f_number": 2.8, "focus_distance_m": 4.0},
        "person": {"stature_m": 1.69},
    }
)
SIZE_PX = (640, 360)
RATE_HZ = 30.0


class BlankSource:
    """`seconds` of black pictures."""

    live = False
    rate_hz = RATE_HZ

    def __init__(self, seconds):
        self.frames_expected = round(seconds * RATE_HZ)
        self.closed = False
        self._index = 0

    def read(self):
        if self._index >= self.frames_expected:
            return None
        picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
        frame = Frame(picture, self._index / RATE_HZ, self._index)
        self._index += 1
        return frame

    def close(self):
        self.closed = True


class NoisyCamera:
    """A camera: pictures with noise in them, at its own pace, stamped on arrival.

    `trouble(age_s, picture)`, asked for each picture with the camera's age in seconds, gives the
    picture to hand out; it may wait, and None ends the feed. `close` lets nothing wait any longer.
    """

    live = True
    frames_expected = None
    rate_hz = 25.0

    def __init__(self, trouble=lambda _, picture: picture):
        self._trouble = trouble
        self._chance = np.random.default_rng(1)
        self._index = -1
        self.began_s = time.monotonic()
        self.closed = threading.Event()

    def picture(self):
        """A new one."""
        return self._chance.integers(0, 8, (SIZE_PX[1], SIZE_PX[0], 3), np.uint8)

    def read(self):
        if self.closed.wait(1 / self.rate_hz):
            return None
        picture = self._trouble(time.monotonic() - self.began_s, self.picture())
        self._index += 1
        return None if picture is None else Frame(picture, time.monotonic(), self._index)

    def close(self):
        self.closed.set()


class PlacedDetector(PoseDetector):
    """Sees one person, hips at `place(time_s)` metres; no one where that is None.

    across_m: how far to the right of the axis, as the camera sees it.
    """

    def __init__(self, place, set_up=SET_UP, across_m=0.0):
        self._place, self._across_m = place, across_m
        self._camera = FeedGeometry.of(set_up).camera(*SIZE_PX)

    def detect(self, picture, time_s):
        at = self._place(time_s)
        return [] if at is None else [standing_pose(self._camera, at, across_m=self._across_m)]

    def close(self):
        pass
