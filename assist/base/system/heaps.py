"""How the C library keeps memory that was given back."""

from __future__ import annotations

import contextlib
import ctypes

from assist.base.system import System

_M_ARENA_MAX = -8
"""Of glibc's malloc.h."""


def hold_few(system: System) -> None:
    """Two heaps for all threads, where the system's C library can be told so.

    Pictures are made on one thread and let go of on another. The C library of Linux then keeps what
    is free in a heap for each thread, and a long run came to hold tens of megabytes for nothing. To
    be called before other threads are begun; a user's own choice goes first.
    """
    if system.kind == "linux" and "MALLOC_ARENA_MAX" not in system.environment:
        with contextlib.suppress(OSError, AttributeError):  # another C library, without the call
            ctypes.CDLL(None).mallopt(_M_ARENA_MAX, 2)
