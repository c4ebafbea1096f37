"""The order of the check, and its verdict."""

from __future__ import annotations

import contextlib
import contextvars
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any, Protocol

from assist import __version__
from assist.base.system import System, cameras, display
from assist.base.system.cameras import CameraDevice
from assist.base.words import _
from assist.check import findings, probe_process
from assist.check.findings import Finding
from assist.check.probe_process import ProbeResult

MOST_CAMERAS = 4
_LIMIT_S = 10.0
_LOAD_LIMIT_S = 60.0
"""The pose network's library alone takes ten seconds and more to load from a slow disk."""


class Look(Protocol):
    """How a probe is run: `probe_process.look`, or a stand-in."""

    def __call__(
        self, system: System, probe: str, /, *arguments: str, limit_s: float
    ) -> ProbeResult:
        """What the probe saw."""
        ...


def run(
    system: System,
    *,
    feed: str | None = None,
    language: str = "en",
    pose_model: Path | None = None,
    folder: Path = Path(),
    patience: float = 1.0,
    look: Look = probe_process.look,
) -> Iterator[Finding]:
    """Every finding, as soon as it is known and always in the same order.

    feed: look at this one instead of the machine's cameras.
    patience: the time limits are multiplied by it.
    """
    look = _patiently(look, patience)
    yield findings.program(system)
    loaded = look(system, "libraries", limit_s=_LOAD_LIMIT_S)
    yield findings.libraries(system, loaded)
    with ThreadPoolExecutor(4) as pool:
        # What takes little of the processor at the same time; the speed alone, afterwards.
        waiting: list[Future[Any]] = []

        def later(job: Callable[[], list[Finding]]) -> None:
            # In the language of the caller, which a thread of a pool does not know of.
            waiting.append(pool.submit(contextvars.copy_context().run, job))

        if not loaded.problem:
            later(lambda: _feeds(system, feed, look))
            later(lambda: [_window(system, look)])
            later(lambda: [findings.video_files(look(system, "video", limit_s=2 * _LIMIT_S))])
        later(lambda: [findings.sound(system, look(system, "sound", limit_s=_LIMIT_S))])
        later(lambda: [findings.speech(system, look(system, "speech", language, limit_s=_LIMIT_S))])
        later(lambda: [findings.tether(system, look(system, "tether", limit_s=_LIMIT_S))])
        for future in waiting:
            yield from future.result()
    yield findings.phone_page()
    yield findings.raw_files()
    yield findings.storage(folder)
    if not loaded.problem:
        given = () if pose_model is None else (str(pose_model.resolve()),)
        seen = look(system, "model", *given, limit_s=_LOAD_LIMIT_S)
        yield findings.model(system, seen)
        measured = findings.speed(seen)
        if measured is not None:
            yield measured


def _patiently(look: Look, patience: float) -> Look:
    def looks(system: System, probe: str, /, *arguments: str, limit_s: float) -> ProbeResult:
        return look(system, probe, *arguments, limit_s=patience * limit_s)

    return looks


def _feeds(system: System, feed: str | None, look: Look) -> list[Finding]:
    if feed is not None:
        return [findings.feed(system, "feed", look(system, "feed", feed, limit_s=_LIMIT_S))]
    devices = cameras.listed(system)
    if devices is None:
        return _by_number(system, look)
    found = []
    for device in devices[: 2 * MOST_CAMERAS]:
        finding = _camera(system, device, look)
        # A device file that belongs to a camera but gives no pictures is no camera.
        if finding.works or not device.further:
            found.append(finding)
    return found[:MOST_CAMERAS] or [findings.no_camera(system)]


def _by_number(system: System, look: Look) -> list[Finding]:
    """Where the system lists none: one after another, until one does not open."""
    found = []
    for number in range(MOST_CAMERAS):
        seen = look(system, "feed", str(number), limit_s=_LIMIT_S)
        if seen.problem and seen.ended == "done" and not seen.values.get("opened"):
            break
        found.append(findings.feed(system, f"camera {number}", seen, CameraDevice(number)))
    return found or [findings.no_camera(system)]


def _camera(system: System, device: CameraDevice, look: Look) -> Finding:
    lacks = cameras.lacking(system, device)
    seen = (
        ProbeResult("done", {}, findings.cannot_open(lacks), lacks)
        if lacks
        else look(system, "feed", str(device.number), limit_s=_LIMIT_S)
    )
    return findings.feed(system, f"camera {device.number}", seen, device)


def _window(system: System, look: Look) -> Finding:
    problem = display.problem(system)
    if problem:
        return findings.window(problem, None)
    return findings.window("", look(system, "window", limit_s=_LIMIT_S))


def missing(found: Sequence[Finding]) -> list[str]:
    """What the main job lacks: to watch a feed and tell the person where to stand. Empty: nothing.

    It takes the pose network, a feed, and one way of telling: window, tones or telephone.
    """
    works = {finding.what for finding in found if finding.works}
    lacks = [
        findings.title(what)
        for what in ("program", "libraries", "pose model", "storage")
        if what not in works
    ]
    if not any(what == "feed" or _is_camera_number(what) for what in works):
        lacks.append(_("a camera or feed that works"))
    if not works & {"window", "sound", "phone page"}:
        lacks.append(_("a way to tell you (window, sound or phone page)"))
    return lacks


def _is_camera_number(what: str) -> bool:
    with contextlib.suppress(ValueError):
        return int(what.removeprefix("camera ")) >= 0
    return False


def as_json(found: Sequence[Finding]) -> dict[str, Any]:
    """For passing on: no names of devices, folders or people."""
    lacks = missing(found)
    return {
        "program": "self-portrait-assist",
        "version": __version__,
        "ready": not lacks,
        "missing": lacks,
        "findings": [
            {
                "what": finding.what,
                "state": finding.state,
                "said": finding.said,
                "mend": finding.mend,
                "facts": dict(finding.facts),
            }
            for finding in found
        ],
    }
