"""Reads a source on a thread of its own, so that decoding and waiting overlap with the network."""

from __future__ import annotations

import threading
import time
from collections import deque
from types import TracebackType

from assist.feed import Frame, Pace, Source

_READ_AHEAD = 4


class FeedReader:
    """Hands out the frames of a source: every one of a file, the newest one of a camera.

    A file at `real` pace is played in its own time and treated as a camera: frames that come due
    while the reader is busy are left out. A context manager; leaving it frees the source.
    """

    def __init__(self, source: Source, pace: Pace = "fast") -> None:
        self.source = source
        self.live = source.live or pace == "real"
        self._paced = pace == "real" and not source.live
        self._frames: deque[Frame] = deque()
        self._changed = threading.Condition()
        self._ended = False
        self._closing = False
        self._error: BaseException | None = None
        self._began_s: float | None = None
        self._last_s = 0.0
        self._thread = threading.Thread(target=self._run, name="feed", daemon=True)

    def __enter__(self) -> FeedReader:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _run(self) -> None:
        try:
            while not self._closing:
                frame = self.source.read()
                if frame is None:
                    break
                if self._paced:
                    now_s = time.monotonic()
                    if self._began_s is None:
                        self._began_s = now_s - frame.time_s
                    self._wait(self._began_s + frame.time_s - now_s)
                self._hand_over(frame)
        except Exception as error:  # re-raised where the frames are read
            self._error = error
        finally:
            with self._changed:
                self._ended = True
                self._changed.notify_all()

    def _wait(self, seconds: float) -> None:
        with self._changed:
            self._changed.wait_for(lambda: self._closing, timeout=max(0.0, seconds))

    def _hand_over(self, frame: Frame) -> None:
        with self._changed:
            if self.live:
                self._frames.clear()
            else:
                self._changed.wait_for(lambda: self._closing or len(self._frames) < _READ_AHEAD)
            self._frames.append(frame)
            self._changed.notify_all()

    @property
    def ended(self) -> bool:
        """Whether the last frame has been handed out."""
        with self._changed:
            return self._ended and not self._frames

    def now_s(self) -> float:
        """The time on the feed's own clock; where a file is read fast, that of its last frame."""
        if self.source.live:
            return time.monotonic()
        if self._paced and self._began_s is not None:
            return time.monotonic() - self._began_s
        return self._last_s

    def read(self, timeout_s: float) -> Frame | None:
        """The next frame, or None when none came in time or the feed has ended.

        Raises what the source raised.
        """
        with self._changed:
            self._changed.wait_for(lambda: self._frames or self._ended, timeout=timeout_s)
            if self._frames:
                frame = self._frames.popleft()
                self._last_s = frame.time_s
                self._changed.notify_all()
                return frame
            if self._error is not None:
                error, self._error = self._error, None
                raise error
            return None

    def close(self) -> None:
        """Stop the thread and free the source; safe to call twice."""
        self._closing = True
        with self._changed:
            self._changed.notify_all()
        if self._thread.is_alive():
            # A driver may hang in a read; the thread is a daemon and must not hold up the end.
            self._thread.join(timeout=3.0)
        if not self._thread.is_alive():
            self.source.close()
