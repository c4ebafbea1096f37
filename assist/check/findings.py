"""What was seen, in words: what, whether it works, and one line how to mend it."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import platform
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from assist import __version__
from assist.base.system import System
from assist.base.system.cameras import CameraDevice, Lacking
from assist.base.words import N_, _, current
from assist.check.probe_process import ProbeResult

State = Literal["works", "does not work", "not installed", "not here"]

SLOW_HZ = 10.0
"""Below this many pictures a second the word comes late for someone who walks: at 1.2 m/s they go
12 cm and more from one picture to the next."""
_LEAST_FREE_BYTES = 500_000_000
_LATE = N_("it hangs, or this machine is busy: close other programs, check again with --patience 5")
_ANEW = N_("install the program anew")
_TITLES = frozenset(
    {
        N_("program"), N_("libraries"), N_("pose model"), N_("speed"), N_("video files"),
        N_("feed"), N_("camera"), N_("window"), N_("sound"), N_("speech"), N_("phone page"),
        N_("camera on a cable"), N_("raw files"), N_("storage"),
    }
)  # fmt: skip
_LIBRARIES = (
    "mediapipe",
    "ai-edge-litert",
    "opencv-python",
    "numpy",
    "pydantic",
    "typer",
    "matplotlib",
    "pillow",
)

# Debian's packages of the libraries that OpenCV, its window and mediapipe load.
_PACKAGE_OF = {
    "libGL.so": "libgl1",
    "libEGL.so": "libegl1",
    "libGLESv2.so": "libgles2",
    "libgthread-2.0.so": "libglib2.0-0",
    "libglib-2.0.so": "libglib2.0-0",
    "libSM.so": "libsm6",
    "libICE.so": "libice6",
    "libXext.so": "libxext6",
}


@dataclass(frozen=True)
class Finding:
    """One line of the check.

    what, state: in English, for programs; `title` is what for people.
    said, mend: in the language that holds where the finding is made.
    said: a few words, without anything that a user gave a name to.
    named: what the device is called; shown, but not for passing on.
    facts: the same for programs; numbers in SI units.
    """

    what: str
    state: State
    said: str = ""
    mend: str = ""
    named: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def works(self) -> bool:
        """Whether it can be used."""
        return self.state == "works"

    @property
    def title(self) -> str:
        """What was looked at, for people."""
        return title(self.what)


def title(what: str) -> str:
    """What was looked at, in the language that holds."""
    number = what.removeprefix("camera ")
    if number.isdigit():
        return _("camera {number}", number=number)
    return _(what) if what in _TITLES else what


def _with_pip(packages: str) -> str:
    return _("with this program's own pip: pip install {packages}", packages=packages)


def program(system: System) -> Finding:
    """The program itself and what it is built on, by their installed versions."""
    versions: dict[str, str | None] = {name: _version(name) for name in _LIBRARIES}
    missing = [name for name, version in versions.items() if version is None]
    facts = {
        "version": __version__,
        "python": platform.python_version(),
        "system": system.kind,
        "machine": platform.machine(),
        **versions,
    }
    said = f"{__version__}, Python {platform.python_version()}, {system.kind}"
    if missing:
        mend = _(
            "with this program's own pip: pip install {packages}, or install the program anew",
            packages=" ".join(missing),
        )
        return Finding("program", "not installed", _without(missing), mend, "", facts)
    return Finding("program", "works", said, facts=facts)


def _without(missing: list[str]) -> str:
    return _("without {packages}", packages=", ".join(missing))


def libraries(system: System, seen: ProbeResult) -> Finding:
    """Whether OpenCV and the pose network's library load."""
    if not seen.problem:
        said = f"OpenCV {seen.values['opencv']}, mediapipe {seen.values['mediapipe']}"
        return Finding("libraries", "works", said, facts=dict(seen.values))
    mend = mend_import(system, seen.problem) or _("install the program anew, in a new environment")
    return Finding("libraries", "does not work", seen.problem, _unless_late(seen, mend))


def mend_import(system: System, problem: str) -> str:
    """How to have a library that could not be loaded; "" when that is not known."""
    package = next((name for part, name in _PACKAGE_OF.items() if part in problem), "")
    if package:
        return _debian(system, "libgl1 libegl1 libgles2 libglib2.0-0 libsm6 libice6 libxext6")
    if "No module named" in problem:
        return _(_ANEW)
    if system.kind == "windows" and "DLL" in problem:
        return _("install the C++ runtime libraries for Windows, then try again")
    return ""


def model(system: System, seen: ProbeResult) -> Finding:
    """Pose network and all that follows it."""
    if seen.problem:
        mend = (
            _("give a model of your own with --pose-model, or install the program anew")
            if seen.lacks == "model"
            else mend_import(system, seen.problem) or _(_ANEW)
        )
        return Finding("pose model", "does not work", seen.problem, _unless_late(seen, mend))
    if not seen.values.get("with_person"):
        said = _("it does not find the person in the sample clip")
        return Finding("pose model", "does not work", said, _(_ANEW))
    said = _(
        "finds the person in the sample clip ({count} pictures)", count=seen.values["pictures"]
    )
    return Finding("pose model", "works", said, facts=dict(seen.values))


def speed(seen: ProbeResult) -> Finding | None:
    """How many pictures a second the machine gets through; None when it was not measured."""
    rate_hz = seen.values.get("rate_hz")
    if seen.problem or not rate_hz:
        return None
    rate = f"{rate_hz:.0f}"
    facts = {"rate_hz": rate_hz}
    if rate_hz < SLOW_HZ:
        mend = _("close other programs, connect mains power; else walk slowly: the word comes late")
        said = _("{rate} pictures a second, which is slow", rate=rate)
        return Finding("speed", "works", said, mend, "", facts)
    said = _(
        "{rate} pictures a second; to spare a battery, 10 while you stand still or nobody is "
        "in view",
        rate=rate,
    )
    return Finding("speed", "works", said, facts=facts)


def video_files(seen: ProbeResult) -> Finding:
    """Reading and writing videos."""
    if seen.problem:
        mend = _("install the program anew; without it --output cannot be used")
        return Finding("video files", "does not work", seen.problem, _unless_late(seen, mend))
    return Finding("video files", "works", _("read and written"))


def feed(
    system: System, what: str, seen: ProbeResult, device: CameraDevice | None = None
) -> Finding:
    """A camera or another feed."""
    named = "" if device is None else device.name
    facts: dict[str, Any] = dict(seen.values)
    if device is not None and device.driver:
        facts["driver"] = device.driver
    if seen.problem:
        said = seen.problem
        if seen.ended == "late" and seen.values.get("opened"):
            said = _("opens, but gives no picture ({problem})", problem=seen.problem)
        mend = _mend_feed(system, device)
        if seen.lacks == "permission":
            mend = _("sudo usermod -aG video $USER, then log in anew")
        elif seen.lacks == "device file":
            mend = _("plug it in anew; in a container, hand the device in")
        return Finding(what, "does not work", said, mend, named, facts)
    said = f"{seen.values['width_px']} x {seen.values['height_px']}"
    if "rate_hz" in seen.values:
        rate = f"{seen.values['rate_hz']:.0f}"
        said = _("{size}, {rate} pictures a second", size=said, rate=rate)
    if seen.values.get("black"):
        mend = _("take the cover off the lens, or let light in")
        said = _("{feed}, but all is black", feed=said)
        return Finding(what, "works", said, mend, named, facts)
    return Finding(what, "works", said, "", named, facts)


def cannot_open(lacks: Lacking) -> str:
    """Why a camera that the system lists cannot be opened."""
    return _("permission denied") if lacks == "permission" else _("its device file is missing")


def _mend_feed(system: System, device: CameraDevice | None) -> str:
    if system.kind == "macos":
        return _("allow the camera to your terminal: System Settings, Privacy & Security, Camera")
    if system.kind == "windows":
        return _("close other programs that use it; Settings, Privacy, Camera: allow desktop apps")
    if device is not None:
        return _("close other programs that use it, plug it in anew")
    return _("check the name, and that it is switched on and within reach")


def no_camera(system: System) -> Finding:
    """There is none, as far as the system tells."""
    mend = _("plug one in (a webcam, or the camera's video output through a capture device)")
    if not system.posix or system.kind == "macos":
        mend = _("{one_way}; or {other}", one_way=mend, other=_mend_feed(system, None))
    return Finding("camera", "not here", _("none found"), mend)


def window(problem: str, seen: ProbeResult | None) -> Finding:
    """The window; `problem` is what was known without trying."""
    if seen is None:
        mend = _("work at a desktop; without one: sound, --share or --output")
        return Finding("window", "not here", problem, mend)
    if seen.problem:
        mend = _("use --no-window, with sound, --share or --output")
        return Finding("window", "does not work", seen.problem, _unless_late(seen, mend))
    return Finding("window", "works")


def sound(system: System, seen: ProbeResult) -> Finding:
    """Tones through the default output."""
    if not seen.problem:
        said = f"{seen.values['rate_hz']} Hz"
        return Finding("sound", "works", said, facts=dict(seen.values))
    if seen.lacks == "package":
        mend = _with_pip('"self-portrait-assist[sound]"')
        return Finding("sound", "not installed", seen.problem, mend)
    if seen.lacks == "library":
        said = _("the PortAudio library is missing")
        return Finding("sound", "not installed", said, _debian(system, "libportaudio2"))
    if seen.lacks == "device":
        return Finding("sound", "not here", seen.problem, _("plug in a loudspeaker or headphones"))
    mend = _("choose a working output in your system's sound settings")
    return Finding("sound", "does not work", seen.problem, _unless_late(seen, mend))


def speech(system: System, seen: ProbeResult) -> Finding:
    """Sentences by the system's own voice."""
    if not seen.problem:
        said = _("by {program}", program=seen.values["program"])
        return Finding("speech", "works", said, facts=dict(seen.values))
    if seen.lacks == "engine":
        state: State = "not installed"
        said = _("no speech engine found")
    else:
        state, said = "does not work", seen.problem
    mend = _debian(system, "espeak-ng")
    if system.kind in ("macos", "windows"):
        mend = _("add a voice in your system's speech settings")
    return Finding("speech", state, said, _unless_late(seen, mend))


def phone_page() -> Finding:
    """The page for a telephone; nothing is opened."""
    missing = [name for name in ("aiohttp", "segno") if importlib.util.find_spec(name) is None]
    if missing:
        mend = _with_pip('"self-portrait-assist[share]"')
        return Finding("phone page", "not installed", _without(missing), mend)
    return Finding("phone page", "works", _("for --share"))


def tether(system: System, seen: ProbeResult) -> Finding:
    """A camera on a cable."""
    what = "camera on a cable"
    if seen.lacks == "binding":
        if system.kind == "windows":
            mend = _("use the camera's own self-timer, or --on-fire")
            return Finding(what, "not installed", _("the library is not made for Windows"), mend)
        mend = _with_pip('"self-portrait-assist[tether]"')
        return Finding(what, "not installed", _("for --trigger tether"), mend)
    if seen.problem:
        mend = _unless_late(seen, _("use --trigger none or --on-fire"))
        return Finding(what, "does not work", seen.problem, mend)
    facts = {"cameras": seen.values["cameras"]}
    if not seen.values["cameras"]:
        mend = _("connect it, switch it on, and set its USB mode to PC or PTP")
        return Finding(what, "not here", _("none found"), mend, "", facts)
    return Finding(what, "works", "", "", ", ".join(seen.values["names"]), facts)


def raw_files() -> Finding:
    """Raw files in the review."""
    if importlib.util.find_spec("rawpy") is None:
        mend = _(
            "{install}; JPEG files need nothing", install=_with_pip('"self-portrait-assist[raw]"')
        )
        return Finding("raw files", "not installed", _("for assist review"), mend)
    return Finding("raw files", "works", _("for assist review"))


def storage(folder: Path) -> Finding:
    """Room for sessions in the folder in which the program is run."""
    try:
        free_bytes = shutil.disk_usage(folder).free
    except OSError as error:
        return Finding(
            "storage", "does not work", str(error.strerror), _("run it in another folder")
        )
    free, facts = current().figure(free_bytes / 1e9), {"free_bytes": free_bytes}
    if not _can_write(folder):
        mend = _("run it in a folder of yours, or name one with --session")
        return Finding("storage", "does not work", _("cannot write here"), mend, "", facts)
    if free_bytes < _LEAST_FREE_BYTES:
        return Finding(
            "storage", "works", _("only {size} GB free here", size=free), _("make room"), "", facts
        )
    return Finding("storage", "works", _("{size} GB free here", size=free), facts=facts)


def _unless_late(seen: ProbeResult, mend: str) -> str:
    return _(_LATE) if seen.ended == "late" else mend


def _can_write(folder: Path) -> bool:
    import tempfile  # noqa: PLC0415

    try:
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _version(name: str) -> str | None:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return None


def _debian(system: System, packages: str) -> str:
    if system.which("apt-get"):
        return f"sudo apt-get install {packages}"
    if system.kind in ("linux", "other"):
        return _(
            "install your system's packages of what Debian calls {packages}", packages=packages
        )
    return _(_ANEW)
