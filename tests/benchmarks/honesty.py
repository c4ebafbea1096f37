"""Whether the stated uncertainty holds in everyday cases: `python -m tests.benchmarks.honesty`.

    python -m tests.benchmarks.honesty --data FOLDER     # made by samples.rendering.sweep

On the rendered bodies that no constant was set on: the body's stature stated or not, after a minute
in view, a focal length stated 3 % too short or too long, seated, the face withheld. Told per call:
of all times it said "in focus", how often that was wrong, for zones of 12 and of 6 % to each side
with the person anywhere in and around them. Kept as results/honesty.md.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from assist.distance import BodyDistance
from assist.distance.engine import DistanceEngine
from assist.pose import Pose
from assist.setup.body import Person
from assist.setup.feed_profile import MARKED_LENS_SD
from optics.camera import PinholeCamera
from optics.focus_zone import FocusZone
from tests.benchmarks.sweep import Shot, load
from tests.benchmarks.tables import ROOT, keep, put_between, table

Z_90 = 1.6449
SURE = 0.90
_OFFSETS = np.linspace(-0.24, 0.24, 49)
_IN_VIEW_S = 60.0
_STEP_S = 1 / 15


def _zoomed(camera: PinholeCamera, factor: float) -> PinholeCamera:
    return replace(camera, fx_px=camera.fx_px * factor, fy_px=camera.fy_px * factor)


def _faceless(pose: Pose) -> Pose:
    return replace(pose, face=None)


def _same(pose: Pose) -> Pose:
    return pose


class Case:
    """One everyday case.

    stated: whether the stature is.   focal: the focal length as stated over the true one.
    in_view_s: for how long the person was seen before, standing upright at marks of 3 to 5 m.
    """

    def __init__(
        self,
        *,
        stated: bool = True,
        focal: float = 1.0,
        in_view_s: float = 0.0,
        see: Callable[[Pose], Pose] = _same,
        posture: str | None = None,
    ) -> None:
        self._stated, self._focal, self._in_view_s, self._see = stated, focal, in_view_s, see
        self._posture = posture

    def measured(self, shots: Sequence[Shot]) -> list[tuple[float, float, float]]:
        """Depth of the eyes, its standard deviation, and the truth; metres."""
        found = []
        for shot in shots:
            if shot.part == "calibration" or shot.pose is None or shot.tuning:
                continue
            if self._posture is not None and shot.conditions["posture"] != self._posture:
                continue
            person = Person(shot.stature_m if self._stated else None)
            engine = DistanceEngine(
                _zoomed(shot.camera, self._focal), person, focal_sd=MARKED_LENS_SD
            )
            time_s = self._look(engine, [s for s in shots if s.person == shot.person])
            body = engine.measure(self._see(shot.pose), time_s + 2.0)
            if isinstance(body, BodyDistance):
                found.append((body.eyes_m, body.eyes_sd_m, shot.eyes_m))
        return found

    def _look(self, engine: DistanceEngine, shots: Sequence[Shot]) -> float:
        """Let the engine see the person for a while; the time when that ends."""
        marks = [s for s in shots if s.part == "calibration" and s.pose is not None]
        time_s = 0.0
        same = [s for s in marks if s.camera == marks[0].camera]
        while time_s < self._in_view_s and same:
            for shot in same:
                assert shot.pose is not None
                engine.measure(self._see(shot.pose), time_s)
                time_s += _STEP_S
        return time_s


def _calls(found: Sequence[tuple[float, float, float]], half: float) -> tuple[int, int, float]:
    """Calls, wrong ones, and the share of pictures in the middle half that got one."""
    calls = wrong = middle = called_there = 0
    for z, sd, truth in found:
        for offset in _OFFSETS * half / 0.12:
            best = truth / (1 + offset)
            zone = FocusZone(best * (1 - half), best, best * (1 + half))
            called = zone.probabilities(z, sd).within >= SURE
            calls += called
            wrong += called and not zone.holds(truth)
            if abs(offset) <= half / 2:
                middle += 1
                called_there += called
    return calls, wrong, called_there / max(middle, 1)


CASES = {
    "stature stated": Case(),
    "stature not stated": Case(stated=False),
    "stature stated, after 60 s in view": Case(in_view_s=_IN_VIEW_S),
    "stature not stated, after 60 s in view": Case(stated=False, in_view_s=_IN_VIEW_S),
    "focal length 3 % too short": Case(focal=0.97),
    "focal length 3 % too long": Case(focal=1.03),
    "seated": Case(posture="seated"),
    "face withheld": Case(see=_faceless),
}
HEADER = (
    "case", "pictures", "median %", "p95 %", "90 % interval holds",
    "wrong of calls, 12 % zone", "called in its middle", "wrong of calls, 6 % zone",
    "called in its middle",
)  # fmt: skip


def row(name: str, found: Sequence[tuple[float, float, float]]) -> list[str]:
    """Cells under HEADER."""
    z, sd, truth = (np.array(column) for column in zip(*found, strict=True))
    error = np.abs(z / truth - 1)
    cells = [name, str(len(found)), f"{100 * np.median(error):.1f}",
             f"{100 * np.percentile(error, 95):.1f}",
             f"{np.mean(np.abs(z - truth) <= Z_90 * sd):.2f}"]  # fmt: skip
    for half in (0.12, 0.06):
        calls, wrong, there = _calls(found, half)
        share = f"{100 * wrong / calls:.1f} % of {calls}" if calls else "no call"
        cells += [share, f"{100 * there:.0f} %"]
    return cells


def main() -> None:
    """Measure and keep the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True, help="the rendered sweep")
    parser.add_argument("--readme", action="store_true", help="put the table into README.md")
    arguments = parser.parse_args()
    folder = arguments.data
    shots = load(folder, folder / "detections")
    rows = [row(name, case.measured(shots)) for name, case in CASES.items()]
    lines = [
        "# Honest uncertainty in everyday cases",
        "",
        "Rendered bodies that no constant was set on, one picture at a time. A call is a picture "
        "and a zone of which it is said that the eyes are in focus; the zones lie so that the "
        "truth is anywhere in and around them.",
        "",
        table(HEADER, rows),
    ]
    keep("honesty", "\n".join(lines))
    if arguments.readme:
        put_between(ROOT / "README.md", "honesty", table(HEADER, rows))


if __name__ == "__main__":
    main()
