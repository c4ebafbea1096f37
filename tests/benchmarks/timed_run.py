"""A live run with a stopwatch at every stage."""

from __future__ import annotations

import bisect
import contextlib
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from assist.base.images import ColourImage
from assist.feed import Frame, Source
from assist.guidance.assistant import Moment
from assist.guidance.message import Message
from assist.output.listeners import Listeners
from assist.pose import Pose
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import live
from assist.setup.set_up import SetUp
from tests.benchmarks import stage_set
from tests.benchmarks.paint_watch import PaintWatch

DECODING, CONVERSION, NETWORK = "decoding", "conversion for the network", "pose network"
THINKING, TELLING = "distance, verdict, guidance", "sound and second screen told"
DRAWING, WINDOW = "guidance screen drawn", "window painted"
STAGES = (DECODING, CONVERSION, NETWORK, THINKING, TELLING, DRAWING, WINDOW)


class Stopwatch:
    """Seconds of each stage, picture by picture, and when each picture was there, told and shown.

    By the picture's index: `arrived_s` (handed over by the source), `told_s` (the listeners have
    it), `shown_s` (the window has painted it); by its time: `network_s`, what the network took.
    """

    def __init__(self) -> None:
        self.spent: dict[str, list[float]] = defaultdict(list)
        self.network_s: dict[float, float] = {}
        self.arrived_s: dict[int, float] = {}
        self.told_s: dict[int, float] = {}
        self.shown_s: dict[int, float] = {}
        self.time_of: dict[int, float] = {}

    def around(self, stage: str, function: Callable[..., Any]) -> Callable[..., Any]:
        """The function, timed."""

        def timed(*arguments: Any, **named: Any) -> Any:
            began_s = time.perf_counter()
            made = function(*arguments, **named)
            self.spent[stage].append(time.perf_counter() - began_s)
            return made

        return timed


class TimedDetector(MediaPipePoseDetector):
    """The detector, with the network's own call timed apart from our conversions.

    alone: without what goes on beside it, the face and the look for others.
    """

    def __init__(self, watch: Stopwatch, *, alone: bool = False) -> None:
        super().__init__(faces=not alone, lookout=not alone)
        self._watch = watch
        self._landmarker.detect_for_video = watch.around(NETWORK, self._landmarker.detect_for_video)

    def detect(self, picture: ColourImage, time_s: float) -> list[Pose] | None:
        """As the detector does."""
        began_s = time.perf_counter()
        poses = super().detect(picture, time_s)
        whole_s = time.perf_counter() - began_s
        network_s = self._watch.network_s[time_s] = self._watch.spent[NETWORK][-1]
        self._watch.spent[CONVERSION].append(whole_s - network_s)
        return poses


class TimedSource:
    """Any source, with the time that reading takes and the time at which each picture is there."""

    def __init__(self, source: Source, watch: Stopwatch) -> None:
        self._source, self._watch = source, watch
        self.live, self.rate_hz = source.live, source.rate_hz
        self.frames_expected = source.frames_expected

    def read(self) -> Frame | None:
        """As the source does."""
        began_s = time.perf_counter()
        frame = self._source.read()
        if frame is not None:
            now_s = self._watch.arrived_s[frame.index] = time.perf_counter()
            # A paced source also sleeps: it says itself how long it decoded.
            decoding_s = getattr(self._source, "decoding_s", now_s - began_s)
            self._watch.spent[DECODING].append(decoding_s)
        return frame

    def close(self) -> None:
        """As the source does."""
        self._source.close()


class _LastEar:
    """Heard last of all listeners: by then everyone has been told."""

    def __init__(self, watch: Stopwatch) -> None:
        self._watch = watch
        self.index = -1

    def hear(self, message: Message) -> None:
        frame = message.moment.frame
        if frame.index != self.index:
            self.index = frame.index
            self._watch.told_s[self.index] = time.perf_counter()

    def close(self) -> None:
        pass


@dataclass(frozen=True)
class Memory:
    """Of this process, MB: the most it ever was, and what it is."""

    most_mb: float
    now_mb: float


def memory() -> Memory:
    """As the system tells it (Linux)."""
    lines = Path("/proc/self/status").read_text(encoding="utf-8").splitlines()
    values = dict(line.split(":", 1) for line in lines)
    return Memory(*(int(values[key].split()[0]) * 1.024e-3 for key in ("VmHWM", "VmRSS")))


@dataclass(frozen=True)
class Measured:
    """A run: its stopwatch, how long it took, the processor's part, its memory at the end."""

    watch: Stopwatch
    wall_s: float
    cpu_s: float
    memory: Memory

    @property
    def cores_used(self) -> float:
        """Of this process alone: neither the display's nor a browser's."""
        return self.cpu_s / self.wall_s


class NothingPaintedError(Exception):
    """The toolkit never got to paint its window, as happens on a fresh virtual display."""


def run(source: Source, set_up: SetUp, *, window: bool, told: bool) -> Measured:
    """One live run over the source.

    window: on the display of the environment.   told: with sound and a second screen.
    """
    watch = Stopwatch()
    last = _LastEar(watch)
    show = live.PreviewWindow.show
    showing: list[tuple[int, float, float]] = []
    current = Frame(np.zeros((1, 1, 3), np.uint8), 0.0, -1)

    def timed_show(self: Any, canvas: ColourImage) -> str:
        began_s = time.perf_counter()
        key = show(self, canvas)
        showing.append((current.index, began_s, time.perf_counter()))
        return key

    think = live.Assistant.think

    def timed_think(self: Any, frame: Frame, *seen: Any) -> Moment:
        nonlocal current
        current = frame
        began_s = time.perf_counter()
        moment = think(self, frame, *seen)
        watch.spent[THINKING].append(time.perf_counter() - began_s)
        watch.time_of[frame.index] = frame.time_s
        return moment

    with contextlib.ExitStack() as stack:
        stack.enter_context(mock.patch.object(live.Assistant, "think", timed_think))
        for owner, name, stage in (
            (live.GuidanceScreen, "draw", DRAWING),
            (Listeners, "hear", TELLING),
        ):
            timed = watch.around(stage, getattr(owner, name))
            stack.enter_context(mock.patch.object(owner, name, timed))
        stack.enter_context(mock.patch.object(live.PreviewWindow, "show", timed_show))
        ears = stack.enter_context(stage_set.listeners(set_up)) if told else []
        detector = stack.enter_context(TimedDetector(watch))
        live_run = live.LiveRun(
            set_up, TimedSource(source, watch), detector, live.LiveOptions(window=window),
            listener=Listeners([*ears, last]),
        )  # fmt: skip
        painted = PaintWatch() if window else None
        began_s, began_cpu_s = time.perf_counter(), time.process_time()
        live_run.run()
        wall_s, cpu_s = time.perf_counter() - began_s, time.process_time() - began_cpu_s
        if painted is not None:
            _note_paintings(watch, showing, painted.stop())
            if len(watch.shown_s) < len(watch.told_s) / 2:
                raise NothingPaintedError
        return Measured(watch, wall_s, cpu_s, memory())


def _note_paintings(
    watch: Stopwatch, showing: list[tuple[int, float, float]], painted_s: list[float]
) -> None:
    """When each picture was first on the display: the first painting since its showing began."""
    for index, began_s, ended_s in showing:
        at = bisect.bisect_left(painted_s, began_s)
        # The server's word may come a little after the call has returned.
        if index not in watch.shown_s and at < len(painted_s) and painted_s[at] < ended_s + 0.01:
            watch.shown_s[index] = painted_s[at]
            watch.spent[WINDOW].append(painted_s[at] - began_s)
