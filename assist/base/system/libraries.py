"""How the libraries behave inside this process: told by variables that they read as they load."""

from __future__ import annotations

import os
from collections.abc import MutableMapping

WANTED = {
    # The distance fit solves small systems, thousands of times a minute. Splitting one over threads
    # costs far more than it gains: 1.6 ms became 260 ms beside a busy pose network, and half of a
    # review's processor time went into waiting.
    "OPENBLAS_NUM_THREADS": "1",
    # OpenCV, and FFmpeg inside it, write to the terminal by themselves unless told not to; our own
    # message says what is wrong.
    "OPENCV_LOG_LEVEL": "OFF",
    "OPENCV_FFMPEG_LOGLEVEL": "-8",
}


def prepare_process(environment: MutableMapping[str, str] = os.environ) -> None:
    """Small solves on one thread, and no library that writes to the terminal by itself.

    For the whole process, so only whoever owns it calls this: the program, a benchmark, a notebook.
    To be called before NumPy and OpenCV are first imported, which read these variables only once; a
    user's own choice goes first.
    """
    for name, value in WANTED.items():
        environment.setdefault(name, value)
