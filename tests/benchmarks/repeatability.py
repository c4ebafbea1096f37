"""How well eyes come back to a mark, and what their pictures tell of it.

    python -m tests.benchmarks.repeatability --data FOLDER   # made by samples.rendering.visits

Relative to one reference view of the same person through the same lens: the error of the measured
ratio of depths, by facing, posture, and with the face withheld, and whether the deviation that the
engine gives for what varies (`own`) holds. Each picture is one rendered still, so one frame: in a
run a person who stands gives fifteen a second, but posture and facing stay in all of them.
Then the blur of the eyes in the taking camera's picture, as the review measures it, against the
lens formula. The people are nobody's on whom a constant was set. Kept as results/repeatability.md.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from assist.distance import BodyDistance, CueReading, Size
from assist.distance.engine import DistanceEngine
from assist.pose import Pose
from assist.review.blur.luminance import linear_luminance
from assist.review.blur.measure import Blur, NotMeasured, measure
from assist.setup.body import Person
from assist.setup.feed_profile import MARKED_LENS_SD
from tests.benchmarks import visits as rendered
from tests.benchmarks.tables import keep, table

Z_90 = 1.6449
LIMIT_PX = float(np.hypot(36, 24)) / 1500 / 36 * 6000
_SHOWN_S, _STEP_S = 3.0, 1 / 15
TURNS_DEG = (0.0, 10.0, 20.0, 30.0)
BLURS_PX = (0.0, 1.0, 2.0, 3.5, 5.0, 8.0, 100.0)


@dataclass(frozen=True)
class Return:
    """One visit against the reference.

    error: measured over true ratio of the two depths, less one.   own_sd: of the visit's depth,
        relative.   both_sd: the same with the reference's own.
    """

    visit: rendered.Visit
    error: float
    own_sd: float
    both_sd: float


See = Callable[[Pose], Pose]
Read = Callable[[BodyDistance], tuple[float, float] | None]


def same(pose: Pose) -> Pose:
    """The pose as it is."""
    return pose


def faceless(pose: Pose) -> Pose:
    """The pose without its face."""
    return replace(pose, face=None)


def engine_told(distance: BodyDistance) -> tuple[float, float]:
    """The engine's depth of the eyes and its own deviation, metres."""
    own_m = max(distance.eyes_sd_m**2 - distance.common_sd_m**2, 0.0) ** 0.5
    return distance.eyes_m, own_m


def cue(size: Size) -> Read:
    """The same of a single cue."""

    def read(distance: BodyDistance) -> tuple[float, float] | None:
        for reading in distance.readings:
            if isinstance(reading, CueReading) and reading.size is size:
                return reading.eyes_m, reading.own_sd_m
        return None

    return read


def returns(
    people: Iterable[rendered.Visits],
    see: See = same,
    see_reference: See | None = None,
    read: Read = engine_told,
    shown_s: float = 0.0,
) -> list[Return]:
    """Every visit that can be measured.

    see, see_reference: what is left of the poses.
    shown_s: for how long the same engine looked at the reference before; 0: an engine each.
    """
    found = []
    for group in people:
        for visit in group.visits:
            engine = _engine(group.reference)
            first = _measured(engine, group.reference, see_reference or see, 0.0)
            time_s = 0.0
            while time_s < shown_s:
                time_s += _STEP_S
                first = _measured(engine, group.reference, see_reference or see, time_s)
            if shown_s == 0.0:
                engine = _engine(visit)
            then = _measured(engine, visit, see, time_s + 5.0)
            if first is None or then is None:
                continue
            a, b = read(first), read(then)
            if a is None or b is None:
                continue
            ratio = (b[0] / a[0]) / (visit.eyes_m / group.reference.eyes_m)
            own, own_before = b[1] / b[0], a[1] / a[0]
            found.append(Return(visit, ratio - 1, own, float(np.hypot(own, own_before))))
    return found


def _engine(visit: rendered.Visit) -> DistanceEngine:
    return DistanceEngine(visit.camera, Person(visit.stature_m), focal_sd=MARKED_LENS_SD)


def _measured(
    engine: DistanceEngine, visit: rendered.Visit, see: See, time_s: float
) -> BodyDistance | None:
    if visit.pose is None:
        return None
    found = engine.measure(see(visit.pose), time_s)
    return found if isinstance(found, BodyDistance) else None


HEADER = (
    "visits", "number", "mean %", "median of size %", "95 % within %", "sd %",
    "own sd stated %", "90 % interval holds", "with the reference's own",
)  # fmt: skip


def row(name: str, found: Sequence[Return]) -> list[str]:
    """Cells under HEADER."""
    if len(found) < 2:
        return [name, str(len(found)), *["-"] * 7]
    error = np.array([r.error for r in found])
    size = np.abs(error)
    own, both = (np.array([getattr(r, part) for r in found]) for part in ("own_sd", "both_sd"))
    return [
        name, str(len(found)), f"{100 * error.mean():+.2f}", f"{100 * np.median(size):.2f}",
        f"{100 * np.percentile(size, 95):.2f}", f"{100 * error.std(ddof=1):.2f}",
        f"{100 * np.median(own):.2f}", f"{np.mean(size <= Z_90 * own):.2f}",
        f"{np.mean(size <= Z_90 * both):.2f}",
    ]  # fmt: skip


def against_others(found: Sequence[Return]) -> list[Return]:
    """The same against the mean of reference and the person's other visits, three at least."""
    groups: dict[tuple[str, str], list[Return]] = {}
    for r in found:
        groups.setdefault((r.visit.set_up.name, r.visit.person), []).append(r)
    moved = []
    for group in groups.values():
        scales = np.array([1.0, *(1 + r.error for r in group)])
        for r, scale in zip(group, scales[1:], strict=True):
            if len(group) >= 3:
                others = (scales.sum() - scale) / (len(scales) - 1)
                moved.append(replace(r, error=scale / others - 1))
    return moved


def distance_rows(people: Sequence[rendered.Visits]) -> list[list[str]]:
    """The table of distances."""
    before = {(g.set_up.name, g.person): g.reference.posture for g in people}

    def posture_before(r: Return) -> str:
        return before[r.visit.set_up.name, r.visit.person]

    def chosen(found: Sequence[Return], fits: Callable[[Return], bool]) -> list[Return]:
        return [r for r in found if fits(r)]

    every = returns(people)
    standing = chosen(
        every, lambda r: posture_before(r) != "seated" and r.visit.posture != "seated"
    )
    rows = [row("standing, head turned up to 30 degrees", standing)]
    for least, most in itertools.pairwise(TURNS_DEG):
        some = chosen(standing, lambda r: least <= abs(r.visit.turned_deg) < most)  # noqa: B023
        rows.append(row(f"... turned {least:.0f} to {most:.0f} degrees", some))
    rows += [
        row("... in the light of the reference",
            chosen(standing, lambda r: r.visit.light == "window")),
        row("... in another light", chosen(standing, lambda r: r.visit.light != "window")),
        row("... nodded up to 4 degrees",
            chosen(standing, lambda r: abs(r.visit.nodded_deg) < 4)),
        row("... nodded 4 to 12 degrees up",
            chosen(standing, lambda r: r.visit.nodded_deg <= -4)),
        row("... nodded 4 to 12 degrees down",
            chosen(standing, lambda r: r.visit.nodded_deg >= 4)),
        row("... turned and nodded up to 10 and 4 degrees",
            chosen(standing, lambda r: abs(r.visit.turned_deg) < 10
                   and abs(r.visit.nodded_deg) < 4)),
        row("... against the mean of the person's others", against_others(standing)),
        row("... a foot ahead", chosen(standing, lambda r: r.visit.posture == "stepping")),
        row("... within 6 cm of the plane",
            chosen(standing, lambda r: abs(r.visit.eyes_m - r.visit.set_up.focus_from_lens_m)
                   <= 0.06)),
    ]  # fmt: skip
    for name in dict.fromkeys(g.set_up.name for g in people):
        some = chosen(standing, lambda r: r.visit.set_up.name == name)  # noqa: B023
        rows.append(row(f"... {name}", some))
    for person in dict.fromkeys(g.person for g in people):
        some = chosen(standing, lambda r: r.visit.person == person)  # noqa: B023
        if some:
            rows.append(row(f"... {person}", some))
    rows += [
        row("seated, reference standing",
            chosen(every, lambda r: posture_before(r) != "seated"
                   and r.visit.posture == "seated")),
        row("seated, reference seated",
            chosen(every, lambda r: posture_before(r) == "seated")),
    ]  # fmt: skip

    def standing_too(name: str, found: Sequence[Return]) -> list[str]:
        stood = chosen(
            found, lambda r: posture_before(r) != "seated" and r.visit.posture != "seated"
        )
        return row(name, stood)

    rows += [
        standing_too("standing, face withheld from both", returns(people, faceless)),
        standing_too(
            "standing, face withheld from the visit", returns(people, faceless, see_reference=same)
        ),
        standing_too(
            "standing, the same engine, reference seen for 3 s", returns(people, shown_s=_SHOWN_S)
        ),
        standing_too(
            "standing, the same engine, face withheld from the visit",
            returns(people, faceless, see_reference=same, shown_s=_SHOWN_S),
        ),
        standing_too("standing, the face's cue alone", returns(people, read=cue(Size.FACE))),
        standing_too("standing, the body's cue alone", returns(people, read=cue(Size.BODY))),
    ]
    return rows


@dataclass(frozen=True)
class Eyes:
    """Blur of one pair of eyes, pixels: true (mean of both, and of the sharper), and measured."""

    visit: rendered.Visit
    true_px: float
    sharper_px: float
    measured: Blur | None


def eyes_of(visit: rendered.Visit, crop: rendered.Crop) -> Eyes:
    """Measured where the review would look, by the feed's pose."""
    region = None if visit.pose is None else crop.region(visit.pose)
    if region is None:
        return Eyes(visit, crop.blur_px, min(crop.eyes_blur_px), None)
    picture, mask, packed = crop.to_measure(region)
    found = measure(linear_luminance(picture), mask, compression=packed)
    told = None if isinstance(found, NotMeasured) else found
    return Eyes(visit, crop.blur_px, min(crop.eyes_blur_px), told)


BLUR_HEADER = (
    "true blur, px", "pictures", "not measured", "median measured - true, px",
    "median measured / true", "... / the sharper eye's", "two thirds of ratios",
    "nine in ten of ratios", "stated sd, px", "90 % interval holds",
)  # fmt: skip


def blur_row(name: str, eyes: Sequence[Eyes]) -> list[str]:
    """Cells under BLUR_HEADER."""
    seen = [(e.true_px, e.sharper_px, e.measured) for e in eyes if e.measured is not None]
    if len(seen) < 2:
        return [name, str(len(eyes)), str(len(eyes) - len(seen)), *["-"] * 7]
    true, sharper = (np.array([row[k] for row in seen]) for k in (0, 1))
    found = np.array([m.width_px for *_, m in seen])
    sd = np.array([m.sd_px for *_, m in seen])
    ratio = found / np.maximum(true, 1e-3)

    def between(part: float) -> str:
        low, high = np.percentile(ratio, [50 * (1 - part), 50 * (1 + part)])
        return f"{low:.2f} to {high:.2f}"

    useful = bool(np.median(true) > 0.8)
    return [
        name, str(len(eyes)), str(len(eyes) - len(seen)), f"{np.median(found - true):+.2f}",
        f"{np.median(ratio):.2f}" if useful else "-",
        f"{np.median(found / np.maximum(sharper, 1e-3)):.2f}" if useful else "-",
        between(2 / 3) if useful else "-", between(0.9) if useful else "-",
        f"{np.median(sd):.2f}", f"{np.mean(np.abs(found - true) <= Z_90 * sd):.2f}",
    ]  # fmt: skip


def blur_rows(eyes: Sequence[Eyes]) -> list[list[str]]:
    """The table of blur, by its true size, by set-up and light."""
    rows = []
    for least, most in itertools.pairwise(BLURS_PX):
        some = [e for e in eyes if least <= e.true_px < most]
        rows.append(blur_row(f"{least:g} to {most:g}" if most < 100 else f"{least:g} up", some))
    soft = [e for e in eyes if e.true_px >= LIMIT_PX / 2]
    for name in dict.fromkeys(e.visit.set_up.name for e in eyes):
        some = [e for e in soft if e.visit.set_up.name == name]
        rows.append(blur_row(f"half the limit up, {name}", some))
    for light in dict.fromkeys(e.visit.light for e in eyes):
        some = [e for e in soft if e.visit.light == light]
        rows.append(blur_row(f"half the limit up, light: {light}", some))
    return rows


def main() -> None:
    """Measure and keep the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True, help="the rendered visits")
    parser.add_argument("--no-blur", action="store_true", help="leave out the pictures' blur")
    options = parser.parse_args()
    people = list(rendered.load(options.data))
    count = sum(len(g.visits) for g in people)
    seen = sum(v.pose is not None for g in people for v in g.visits)
    faces = sum(v.pose is not None and v.pose.face is not None for g in people for v in g.visits)
    lines = [
        "# Coming back to a mark",
        "",
        f"{count} rendered visits of {len({g.person for g in people})} people through "
        f"{len({g.set_up.name for g in people})} lenses, {len(people)} references; found in the "
        f"feed {seen}, with a face {faces}. Stature stated. Every picture is one still, one frame: "
        "what a run averages over is not in it. Errors of the ratio of visit to reference.",
        "",
        table(HEADER, distance_rows(people)),
    ]
    if not options.no_blur:
        eyes = [
            eyes_of(v, v.crop)
            for g in people
            for v in (g.reference, *g.visits)
            if v.crop is not None
        ]
        lines += [
            f"Blur of the eyes in pictures of 6000 by 4000 pixels, limit {LIMIT_PX:.1f} px "
            "(diagonal / 1500), against b = f² |z - s| / (N z (s - f)):",
            "",
            table(BLUR_HEADER, blur_rows(eyes)),
        ]
    keep("repeatability", "\n".join(lines))


if __name__ == "__main__":
    main()
