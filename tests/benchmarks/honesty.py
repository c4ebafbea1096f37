"""Whether the stated uncertainty holds in everyday cases: `python -m tests.benchmarks.honesty`.

    python -m tests.benchmarks.honesty --data FOLDER     # made by samples.rendering.sweep

On the rendered bodies that no constant was set on: the body's stature measured, stated as people
state theirs, or not at all, after a minute in view, a focal length stated 3 % too short or too
long, seated, the face withheld. Told per call: of all times it said "in focus", how often that was
wrong, for zones of 12 and of 6 % to each side with the person anywhere in and around them. Kept as
results/honesty.md.

The four bodies count alike, though half of them are as small or as tall as one adult in a hundred.
The last column weighs them by the adults who are nearer to each in stature than to the others.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from assist.distance import BodyDistance
from assist.distance.engine import DistanceEngine
from assist.pose import Pose
from assist.setup.body import OVERSTATED_M, STATED_STATURE_SD_M, Person
from assist.setup.feed_geometry import breathing_sd
from assist.setup.feed_profile import MARKED_LENS_SD
from optics.camera import PinholeCamera
from optics.focus_zone import FocusZone
from tests.benchmarks.sweep import Shot, load
from tests.benchmarks.tables import GUIDE, keep, put_between, table

Z_90 = 1.6449
SURE = 0.90
_OFFSETS = np.linspace(-0.24, 0.24, 49)
_IN_VIEW_S = 60.0
_CALIBRATED_SD = 0.005
_ADULTS_M = ((1.629, 0.064), (1.756, 0.069))
"""Mean and standard deviation of the statures of women and men, half of the adults each (ANSUR II,
NATICK/TR-15/007, 2014; from memory)."""
_STEP_S = 1 / 4


def _zoomed(camera: PinholeCamera, factor: float) -> PinholeCamera:
    return replace(camera, fx_px=camera.fx_px * factor, fy_px=camera.fy_px * factor)


def _faceless(pose: Pose) -> Pose:
    return replace(pose, face=None)


def _same(pose: Pose) -> Pose:
    return pose


@dataclass(frozen=True, slots=True)
class Found:
    """Depth of the eyes as measured, its standard deviation, the truth, and whose; metres."""

    eyes_m: float
    sd_m: float
    true_m: float
    stature_m: float

    @property
    def held(self) -> bool:
        """Whether the 90 % interval holds."""
        return abs(self.eyes_m - self.true_m) <= Z_90 * self.sd_m


class Case:
    """One everyday case.

    stature: "stated" as people do, with the error that surveys find, "measured" or "unknown".
    focal: the focal length as stated over the true one.
    calibrated: whether the focal length was learned by a calibration instead.
    in_view_s: for how long the person was seen before, standing upright at marks of 3 to 5 m.
    """

    def __init__(
        self,
        *,
        stature: str = "stated",
        focal: float = 1.0,
        calibrated: bool = False,
        in_view_s: float = 0.0,
        see: Callable[[Pose], Pose] = _same,
        posture: str | None = None,
    ) -> None:
        self._stature, self._focal, self._in_view_s, self._see = stature, focal, in_view_s, see
        self._posture, self._calibrated = posture, calibrated

    def _person(self, stature_m: float, slip: float) -> Person:
        """The person as known; slip: how far off they state their stature, standard deviations."""
        if self._stature == "unknown":
            return Person()
        if self._stature == "measured":
            return Person(stature_m, measured=True)
        return Person(stature_m + OVERSTATED_M + slip * STATED_STATURE_SD_M)

    def measured(self, shots: Sequence[Shot]) -> list[Found]:
        """What the engine says of every picture."""
        found = []
        slips = np.random.default_rng(7).standard_normal(len(shots))
        for shot, slip in zip(shots, slips, strict=True):
            if shot.part == "calibration" or shot.pose is None or shot.tuning:
                continue
            if self._posture is not None and shot.conditions["posture"] != self._posture:
                continue
            stated_sd = math.hypot(MARKED_LENS_SD, breathing_sd(shot.lens_m, shot.eyes_m))
            focal_sd = _CALIBRATED_SD if self._calibrated else stated_sd
            engine = DistanceEngine(
                _zoomed(shot.camera, self._focal),
                self._person(shot.stature_m, float(slip)),
                focal_sd=focal_sd,
            )
            time_s = self._look(engine, [s for s in shots if s.person == shot.person])
            body = engine.measure(self._see(shot.pose), time_s + 2.0)
            if isinstance(body, BodyDistance):
                found.append(Found(body.eyes_m, body.eyes_sd_m, shot.eyes_m, shot.stature_m))
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


def _weights(statures_m: Sequence[float]) -> dict[float, float]:
    """How many adults are nearer to each of these statures than to any other of them."""
    ordered = sorted(set(statures_m))
    edges = [-math.inf, *((a + b) / 2 for a, b in pairwise(ordered)), math.inf]
    below = [
        sum(0.5 * (1 + math.erf((edge - mean) / (sd * math.sqrt(2)))) for mean, sd in _ADULTS_M) / 2
        for edge in edges
    ]
    return {m: below[k + 1] - below[k] for k, m in enumerate(ordered)}


def _weighted_coverage(found: Sequence[Found]) -> float:
    """Share of intervals that hold, the bodies weighted by how many adults are like them."""
    weights = _weights([f.stature_m for f in found])
    held = {m: float(np.mean([f.held for f in found if f.stature_m == m])) for m in weights}
    return sum(weight * held[m] for m, weight in weights.items())


def _calls(found: Sequence[Found], half: float) -> tuple[int, int, float]:
    """Calls, wrong ones, and the share of pictures in the middle half that got one."""
    calls = wrong = middle = called_there = 0
    for one in found:
        z, sd, truth = one.eyes_m, one.sd_m, one.true_m
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
    "stature measured": Case(stature="measured"),
    "stature not stated": Case(stature="unknown"),
    "stature stated, after 60 s in view": Case(in_view_s=_IN_VIEW_S),
    "stature not stated, after 60 s in view": Case(stature="unknown", in_view_s=_IN_VIEW_S),
    "stature measured, feed calibrated, after 60 s": Case(
        stature="measured", calibrated=True, in_view_s=_IN_VIEW_S
    ),
    "focal length 3 % too short": Case(focal=0.97),
    "focal length 3 % too long": Case(focal=1.03),
    "seated": Case(posture="seated"),
    "face withheld": Case(see=_faceless),
}
HEADER = (
    "case", "pictures", "median %", "p95 %", "90 % interval holds",
    "wrong of calls, 12 % zone", "called in its middle", "wrong of calls, 6 % zone",
    "called in its middle", "interval holds, weighted by stature",
)  # fmt: skip


def row(name: str, found: Sequence[Found]) -> list[str]:
    """Cells under HEADER."""
    error = np.array([abs(f.eyes_m / f.true_m - 1) for f in found])
    cells = [name, str(len(found)), f"{100 * np.median(error):.1f}",
             f"{100 * np.percentile(error, 95):.1f}",
             f"{np.mean([f.held for f in found]):.2f}"]  # fmt: skip
    for half in (0.12, 0.06):
        calls, wrong, there = _calls(found, half)
        share = f"{100 * wrong / calls:.1f} % of {calls}" if calls else "no call"
        cells += [share, f"{100 * there:.0f} %"]
    return [*cells, f"{_weighted_coverage(found):.2f}"]


def main() -> None:
    """Measure and keep the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True, help="the rendered sweep")
    parser.add_argument("--guide", action="store_true", help="put the table into the guide")
    arguments = parser.parse_args()
    folder = arguments.data
    shots = load(folder, folder / "detections")
    rows = [row(name, case.measured(shots)) for name, case in CASES.items()]
    lines = [
        "# Honest uncertainty in everyday cases",
        "",
        "Rendered bodies that no constant was set on, one picture at a time. A call is a picture "
        "and a zone of which it is said that the eyes are in focus; the zones lie so that the "
        "truth is anywhere in and around them. Each body counts alike but in the last column, "
        "which weighs them by how many adults are like them in stature.",
        "",
        table(HEADER, rows),
    ]
    keep("honesty", "\n".join(lines))
    if arguments.guide:
        put_between(GUIDE / "accuracy.md", "honesty", table(HEADER, rows))


if __name__ == "__main__":
    main()
