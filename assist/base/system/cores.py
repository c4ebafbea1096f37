"""Keeps the pose network and all the rest on cores of their own, where there are just two.

With two cores the system moves the network's threads to and fro between the other work's, and each
move costs it the caches: of a file of 1920x1080, 38 pictures a second were seen instead of 46. With
more cores there is one free to go to. Linux only; elsewhere nothing is done.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterable, Iterator
from pathlib import Path


def own_threads() -> frozenset[int]:
    """The system's numbers of this process's threads, those of libraries too; empty if unknown."""
    try:
        return frozenset(int(entry.name) for entry in Path("/proc/self/task").iterdir())
    except OSError:
        return frozenset()


@contextlib.contextmanager
def apart(network: Iterable[int]) -> Iterator[None]:
    """Put these threads on one core and all others on the other while the context lasts.

    Threads begun meanwhile go where the thread is that begins them.
    """
    if sys.platform != "linux":
        yield
        return
    allowed = os.sched_getaffinity(0)
    if len(allowed) != 2:
        yield
        return
    first, last = sorted(allowed)  # the first core usually has the system's own work to do as well
    kept = frozenset(network)
    _move(own_threads() - kept, {first})
    _move(kept, {last})
    try:
        yield
    finally:
        _move(own_threads(), allowed)


def join(network: Iterable[int]) -> None:
    """Go where these threads are, as the thread does that waits for them and nothing else."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError, StopIteration):
            _move({threading.get_native_id()}, os.sched_getaffinity(next(iter(network))))


def _move(threads: Iterable[int], to: set[int]) -> None:
    if sys.platform == "linux":
        for thread in threads:
            with contextlib.suppress(OSError):  # it has ended meanwhile, or may not be moved
                os.sched_setaffinity(thread, to)
