"""Being told to end: by an interrupt, by termination, by a terminal that closes."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator

_NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")


@contextlib.contextmanager
def stopping(stop: Callable[[], None], stopped: Callable[[], bool]) -> Iterator[None]:
    """While it holds, such a signal calls `stop`; once `stopped`, it raises KeyboardInterrupt.

    An exception out of nowhere could cut a line of the record short; a run that only takes note
    ends between two pictures. Who asks again is not made to wait for what is still going on. Away
    from the main thread, where Python gives no signals, nothing is changed.
    """

    def heard(_number: int, _frame: object) -> None:
        if stopped():
            raise KeyboardInterrupt
        stop()

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
