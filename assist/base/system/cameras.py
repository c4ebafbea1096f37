"""Which cameras there are, and through which of the system's interfaces they are read."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from assist.base.system import Kind, System

Interface = Literal["V4L2", "AVFOUNDATION", "DSHOW", "MSMF", "ANY"]
"""OpenCV's names, less `CAP_`."""
Lacking = Literal["device file", "permission"]
"""What a listed camera lacks to be opened."""

# On Windows, OpenCV's users report that Media Foundation takes many seconds to open a camera whose
# picture size is set; DirectShow does not. Not tried on Windows here.
_INTERFACES: dict[Kind, tuple[Interface, ...]] = {
    "linux": ("V4L2",),
    "macos": ("AVFOUNDATION",),
    "windows": ("DSHOW", "MSMF"),
    "other": ("ANY",),
}


@dataclass(frozen=True, slots=True)
class CameraDevice:
    """A camera as the system names it.

    number: what `assist live` is given.
    name: what its maker calls it; "" where the system does not say.
    driver: the kernel's, "" where the system does not say.
    further: one of several device files of the same camera and not the first: it may give no
        pictures but what belongs to them.
    """

    number: int
    name: str = ""
    driver: str = ""
    further: bool = False


def interfaces(system: System) -> tuple[Interface, ...]:
    """The interfaces to try, the best first."""
    return _INTERFACES[system.kind]


def listed(system: System) -> list[CameraDevice] | None:
    """The cameras that the system lists; None where it has to be asked number by number.

    Nothing is opened.
    """
    if system.kind != "linux":
        return None
    base = system.root / "sys" / "class" / "video4linux"
    found = []
    for entry in base.glob("video*"):
        match = re.fullmatch(r"video(\d+)", entry.name)
        if match is None:
            continue
        driver = entry / "device" / "driver"
        found.append(
            CameraDevice(
                int(match[1]),
                _text(entry / "name"),
                driver.resolve().name if driver.exists() else "",
                _text(entry / "index") not in ("", "0"),
            )
        )
    return sorted(found, key=lambda camera: camera.number)


def lacking(system: System, camera: CameraDevice) -> Lacking | None:
    """Why a listed camera cannot be opened, as far as its device file tells; None if it may be."""
    path = system.root / "dev" / f"video{camera.number}"
    if not path.exists():
        return "device file"
    if not os.access(path, os.R_OK | os.W_OK):
        return "permission"
    return None


def _text(path: Path) -> str:
    try:
        return path.read_text(errors="replace").strip()
    except OSError:
        return ""
