"""Distance on rendered bodies: `python -m tests.benchmarks.distance_rendered --data FOLDER`.

FOLDER is made by `python -m samples.rendering.sweep --out FOLDER`. Constants were set on three of
the seven bodies (`sweep.TUNING_BODIES`); the tables are of the other four unless they say so.
The others' tables were printed now and then on the way, but no constant was chosen by them.
Each picture stands alone: there is no tracking, and front and back cannot be kept apart by memory.
Calibrated: the profile comes from the body's pictures at marks of 3, 4 and 5 m.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Callable, Sequence
from pathlib import Path

from assist.base.errors import UserError
from assist.calibrate.mark import Mark, MarkPicture, learn
from assist.distance import BodyDistance
from assist.distance.engine import DistanceEngine
from assist.setup.body import Person
from tests.benchmarks import baselines
from tests.benchmarks.scores import HEADER, Errors, reliability_plot
from tests.benchmarks.sweep import Shot, load
from tests.benchmarks.tables import GUIDE, RESULTS, keep, put_between, table

README_ROWS = (
    "baseline: stature against pixel height",
    "baseline: solvePnP on the world landmarks",
    "stature known",
    "calibrated at marks",
    "limit: stature known, the face found",
    "limit: calibrated, the face found",
)
Measured = tuple[float, float, float, float]
Measure = Callable[[Shot], Measured | None]


def engine(shot: Shot, person: Person) -> Measured | None:
    """The engine on one picture: eyes, sd, hips, sd."""
    if shot.pose is None:
        return None
    found = DistanceEngine(shot.camera, person).measure(shot.pose, 0.0)
    if not isinstance(found, BodyDistance):
        return None
    return found.eyes_m, found.eyes_sd_m, found.hips_m, found.hips_sd_m


def profiles(shots: Sequence[Shot]) -> dict[str, Person]:
    """What the pictures at marks teach about each body."""
    at_marks: dict[str, dict[int, list[MarkPicture]]] = defaultdict(lambda: defaultdict(list))
    for k, shot in enumerate(shots):
        if shot.part == "calibration" and shot.pose is not None:
            # A second apart, for the pictures do not follow one another.
            picture = MarkPicture(shot.camera, shot.pose, 10.0 * k, shot.axis_m)
            at_marks[shot.person][round(shot.axis_m)].append(picture)
    known = {}
    for name, marks in at_marks.items():
        try:
            learned = learn([Mark(pictures) for pictures in marks.values()])
        except UserError:
            continue  # the sweep is not finished
        known[name] = Person(None, learned.profile)
    return known


def judge(shots: Sequence[Shot], measure: Measure) -> tuple[Errors, Errors]:
    """Errors of eyes and hips."""
    eyes, hips = Errors(), Errors()
    for shot in shots:
        found = measure(shot)
        if found is None:
            eyes.absent += 1
            hips.absent += 1
        else:
            eyes.add(found[0], found[1], shot.eyes_m)
            hips.add(found[2], found[3], shot.hips_m)
    return eyes, hips


def baseline(way: Callable[..., tuple[float, float] | None]) -> Measure:
    """A baseline with the stature known."""

    def measure(shot: Shot) -> Measured | None:
        found = None if shot.pose is None else way(shot.pose, shot.camera, shot.stature_m)
        return None if found is None else (found[0], 0.05, found[1], 0.05)

    return measure


def face_found(shot: Shot) -> bool:
    """Whether the face network found the face."""
    return shot.pose is not None and shot.pose.face is not None


def split_rows(shots: Sequence[Shot], measure: Measure) -> list[list[str]]:
    """A row for every level of every condition."""
    rows = []
    for kind in ("framing", "posture", "turned", "light", "lens", "tilt"):
        groups: dict[str, list[Shot]] = defaultdict(list)
        for shot in shots:
            groups[shot.conditions[kind]].append(shot)
        for level in sorted(groups):
            rows.append(judge(groups[level], measure)[0].row(f"{kind}: {level}"))
    faces: dict[str, list[Shot]] = defaultdict(list)
    for shot in shots:
        faces["face: found" if face_found(shot) else "face: not found"].append(shot)
    rows += [judge(faces[name], measure)[0].row(name) for name in sorted(faces)]
    bodies: dict[str, list[Shot]] = defaultdict(list)
    for shot in shots:
        bodies[f"body: {shot.person[0]} {shot.stature_m:.2f} m"].append(shot)
    rows += [judge(bodies[name], measure)[0].row(name) for name in sorted(bodies)]
    return rows


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--cache", type=Path, help="where detections are kept")
    parser.add_argument("--guide", action="store_true", help="put the short table into the guide")
    options = parser.parse_args()
    shots = load(options.data, options.cache or options.data / "detections")
    known = profiles(shots)
    tests = [s for s in shots if s.part == "test"]
    held_out = [s for s in tests if not s.tuning]
    calibrated = [s for s in held_out if s.person in known]

    def with_stature(shot: Shot) -> Measured | None:
        return engine(shot, Person(shot.stature_m, measured=True))

    def with_profile(shot: Shot) -> Measured | None:
        return engine(shot, known[shot.person])

    ways: list[tuple[str, Sequence[Shot], Measure, bool]] = [
        ("baseline: stature against pixel height", held_out,
         baseline(baselines.pixel_height), False),
        ("baseline: solvePnP on the world landmarks", held_out,
         baseline(baselines.perspective_n_point), False),
        ("nothing known of the person", held_out, lambda s: engine(s, Person()), True),
        ("stature known", held_out, with_stature, True),
        ("calibrated at marks", calibrated, with_profile, True),
        ("limit: stature known, the face found", [s for s in held_out if face_found(s)],
         with_stature, True),
        ("limit: calibrated, the face found", [s for s in calibrated if face_found(s)],
         with_profile, True),
        ("stature known, the bodies used for tuning", [s for s in tests if s.tuning],
         with_stature, True),
    ]  # fmt: skip
    eyes_rows, hips_rows, plotted = [], [], {}
    for name, chosen, measure, stated in ways:
        eyes, hips = judge(chosen, measure)
        eyes_rows.append(eyes.row(name, stated=stated))
        hips_rows.append(hips.row(name, stated=stated))
        if name in ("stature known", "calibrated at marks") and eyes.measured_m:
            plotted[name] = eyes
    reliability_plot(RESULTS / "distance_rendered_reliability.png", plotted)
    detail = with_profile if calibrated else with_stature
    text = (
        "# Distance on rendered bodies\n\n"
        f"{len(tests)} test pictures of {len({s.person for s in tests})} bodies, one picture at a "
        f"time; {len(held_out)} are of bodies that no constant was set on.\n\n"
        f"## Eyes\n\n{table(HEADER, eyes_rows)}\n## Middle of the hips\n\n"
        f"{table(HEADER, hips_rows)}\n## Eyes, by condition, calibrated\n\n"
        f"{table(HEADER, split_rows(calibrated or held_out, detail))}"
    )
    keep("distance_rendered", text)
    if options.guide:
        near = [s for s in calibrated if s.conditions["framing"] == "head shoulders"]
        rows = [
            *(row for row in eyes_rows if row[0] in README_ROWS),
            judge(near, with_profile)[0].row("calibrated, head and shoulders only"),
        ]
        put_between(GUIDE / "accuracy.md", "accuracy-rendered", table(HEADER, rows))


if __name__ == "__main__":
    main()
