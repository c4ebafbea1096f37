"""Being told to end: by an interrupt, by termination, by a terminal that closes."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from types import FrameType

_NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")


@contextlib.contextmanager
def held() -> Iterator[None]:
    """While it holds, such a signal waits; KeyboardInterrupt at the end if one came.

    For libraries that cannot be interrupted while they load: they would make another error of the
    exception. To be kept to what takes a second or so.
    """
    came = False

    def heard(_number: int, _frame: object) -> None:
        nonlocal came
        came = True

    with _handled_by(heard):
        yield
    if came:
        raise KeyboardInterrupt


@contextlib.contextmanager
def stopping(stop: Callable[[], None], stopped: Callable[[], bool]) -> Iterator[None]:
    """While it holds, such a signal calls `stop`; once `stopped`, it raises KeyboardInterrupt.

    An exception out of nowhere could cut a line of the record short; a run that only takes note
    ends between two pictures. Who asks again is not made to wait for what is still going on.
    """

    def heard(_number: int, _frame: object) -> None:
        if stopped():
            raise KeyboardInterrupt
        stop()

    with _handled_by(heard):
        yield


@contextlib.contextmanager
def _handled_by(heard: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """The signals' handler for a while; away from the main thread, which gets none, nothing."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {}
    for name in _NAMES:
        number = getattr(signal, name, None)
        # One that is ignored stays so: "nohup" asks for the run to outlive its terminal.
        if number is not None and signal.getsignal(number) not in (signal.SIG_IGN, None):
            before[number] = signal.signal(number, heard)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
