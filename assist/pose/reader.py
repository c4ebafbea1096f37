"""Runs the pose network on a thread of its own, so that it never waits for words or screen."""

from __future__ import annotations

from dataclasses import dataclass

from assist.base.handover import Supplier
from assist.base.system import cores
from assist.feed import Frame, Silence
from assist.feed.reader import FeedReader
from assist.pose import Glance, Pose, PoseDetector
from assist.pose.rest import Rest

_TICK_S = 0.1
_AHEAD = 2
_LONGEST_S = 5.0
"""What a picture may still take at the end of a run; the slowest machine needs a tenth of it."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """A frame and the people found in it."""

    frame: Frame
    poses: list[Pose] | None
    """None where the network failed at it, or was not asked."""
    glance: Glance | None = None
    """Who else is in view, where that has been looked for and is news."""
    looked: bool = True
    """Whether the network was asked; at rest it is not asked for every picture."""


class PoseReader(Supplier[Sighting]):
    """Hands out the frames of a feed with the poses in them, found while the last one is shown.

    As the feed's reader does: every one of a file, in order, and the newest one of a camera. A
    context manager; leave it before the detector is closed.

    rest: which pictures the network may leave out; None for none.
    """

    def __init__(
        self, reader: FeedReader, detector: PoseDetector, rest: Rest | None = None
    ) -> None:
        super().__init__("pose", None if reader.live else _AHEAD, _LONGEST_S)
        self._reader = reader
        self._rest = rest
        self._detector = detector
        self._last_s = 0.0
        self._looking = False

    def _run(self) -> None:
        cores.join(self._detector.threads)
        super()._run()

    def _next(self) -> Sighting | None:
        while not self._made.closed:
            frame = self._reader.read(_TICK_S)
            if frame is not None:
                if self._rest is not None and not self._rest.wants(frame.picture, frame.time_s):
                    if self._reader.live and self._made.waiting:
                        continue  # it must not take the place of one that was looked at
                    return Sighting(frame, None, looked=False)
                self._looking = True
                poses = self._detector.detect(frame.picture, frame.time_s)
                self._looking = False
                glance = self._detector.glance(wait=not self._reader.live)
                return Sighting(frame, poses, glance)
            if self._reader.ended:
                break
        return None

    @property
    def silence(self) -> Silence:
        """Why there is nothing new to hand out, if there is not."""
        return Silence.LATE if self._looking else self._reader.silence

    def now_s(self) -> float:
        """The time on the feed's own clock; where a file is read fast, that of the last sighting.

        The network may have got further already.
        """
        return self._reader.now_s() if self._reader.live else self._last_s

    def read(self, timeout_s: float) -> Sighting | None:
        """The next sighting, or None when none came in time or the feed has ended.

        Raises what the source or the detector raised.
        """
        sighting = self._made.take(timeout_s)
        if sighting is not None:
            self._last_s = sighting.frame.time_s
        return sighting
