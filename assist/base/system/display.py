"""Whether a window can be opened."""

from __future__ import annotations

import re
import socket
from pathlib import Path

from assist.base.system import System
from assist.base.words import _

_PATIENCE_S = 2.0
_FIRST_PORT = 6000


def problem(system: System) -> str:
    """Why no window can be opened, in a few words; "" where one can be expected to.

    The window's library ends the whole program when the display that is named does not answer, so
    that is asked first. A display on another machine is asked by the network, as the window would.
    """
    if not system.posix or system.kind == "macos":
        return ""
    name = system.environment.get("DISPLAY", "")
    if not name:
        # The window's library as it comes with OpenCV speaks X11 only, also under Wayland.
        if system.environment.get("WAYLAND_DISPLAY"):
            return _("Wayland without XWayland")
        return _("no display")
    match = re.fullmatch(r"(?:unix)?(?P<host>[^:/]*):(?P<number>\d+)(?:\.\d+)?", name)
    if match is None:
        return ""  # a form that only the library itself understands
    host, number = match["host"], int(match["number"])
    answers = _on_network(host, number) if host else _on_this_machine(system.root, number)
    return "" if answers else _("display {name} does not answer", name=name)


def _on_this_machine(root: Path, number: int) -> bool:
    path = str(root / "tmp" / ".X11-unix" / f"X{number}")
    # Linux's servers listen under an abstract name too; a container may see only one of the two.
    return any(_connects(socket.AF_UNIX, name) for name in (path, "\0" + path))


def _on_network(host: str, number: int) -> bool:
    try:
        with socket.create_connection((host, _FIRST_PORT + number), _PATIENCE_S):
            return True
    except OSError:
        return False


def _connects(family: int, name: str) -> bool:
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.settimeout(_PATIENCE_S)
        try:
            probe.connect(name)
        except OSError:
            return False
        return True
