"""Which kinds of stream the video library at hand opens."""

from __future__ import annotations

import ctypes
from functools import cache
from pathlib import Path

import cv2

_ALWAYS = ("rtsp", "rtsps", "rtmp", "http", "https", "rtp", "udp", "tcp")
"""Opened by every build. The library knows more kinds, some of which read any file."""
_SOMETIMES = ("srt",)
"""Opened where it was built with a further library."""


@cache
def stream_kinds() -> tuple[str, ...]:
    """Beginnings of addresses that can be opened, in lower case."""
    return (*_ALWAYS, *(kind for kind in _SOMETIMES if kind in _built_in()))


def _built_in() -> frozenset[str]:
    """Protocols of the FFmpeg library that came with OpenCV; none where that cannot be asked."""
    beside = Path(cv2.__file__).parent
    folders = (beside / ".dylibs", *beside.parent.glob("opencv*.libs"))
    for library in (path for folder in folders for path in sorted(folder.glob("libavformat*"))):
        try:
            ask = ctypes.CDLL(str(library)).avio_enum_protocols
        except (OSError, AttributeError):
            continue
        ask.restype = ctypes.c_char_p
        place, names = ctypes.c_void_p(), set()
        while name := ask(ctypes.byref(place), 0):
            names.add(name.decode())
        return frozenset(names)
    return frozenset()
