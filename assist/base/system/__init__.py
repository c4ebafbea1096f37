"""Which operating system this is. All that differs between systems is in this package.

What depends on it takes a `System`, so that every branch can be read and tested on any machine.
"""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

Kind = Literal["linux", "macos", "windows", "other"]

_KINDS: dict[str, Kind] = {"linux": "linux", "darwin": "macos", "win32": "windows"}


@dataclass(frozen=True, slots=True)
class System:
    """A description of an operating system.

    kind: "other" is any further POSIX system, where what Linux does is tried.
    environment: its environment variables.
    which: the path of a program by its name, None where it is not installed.
    root: where its files start; another folder in tests.
    """

    kind: Kind = "linux"
    environment: Mapping[str, str] = field(default_factory=dict)
    which: Callable[[str], str | None] = lambda _name: None
    root: Path = Path("/")

    @property
    def posix(self) -> bool:
        """Whether it has process groups, signals and folders that can be opened."""
        return self.kind != "windows"


def here() -> System:
    """The system that this runs on."""
    return System(_KINDS.get(sys.platform, "other"), os.environ, shutil.which)
