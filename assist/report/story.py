"""What a session's folder tells, gathered and put into words; drawn by the page and the PDF."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from pathlib import Path

from assist import rehearsal, session
from assist import set_up as set_ups
from assist.best import best_attempt, best_pictures, called_in_focus, read_reviews
from assist.errors import UserError
from assist.files import printable
from assist.rehearsal import RunScore
from assist.review.checked import MOVEMENT, CheckedPicture, Sharpness
from assist.session import Attempt
from assist.set_up import SetUp
from assist.verdict import Verdict
from optics import lens as thin_lens

_FAR_FROM_MARK_M = 0.10
_GOOD = (Sharpness.SHARP.value, Sharpness.ACCEPTABLE.value)


@dataclass(frozen=True)
class Zone:
    """The focus zone, metres from the sensor plane; far_m may be infinite."""

    near_m: float
    far_m: float
    focus_m: float


@dataclass(frozen=True)
class Story:
    """All that a report says.

    set_up_facts, plan_facts: names and values in words.
    reviewed: the checked pictures by attempt, the best of each.
    keep: what to keep or change next time, the most useful first.
    """

    name: str
    folder: Path
    set_up: SetUp
    zone: Zone
    attempts: list[Attempt]
    rehearsals: list[RunScore]
    reviewed: dict[int, CheckedPicture]
    pictures: int
    set_up_facts: list[tuple[str, str]]
    plan_facts: list[tuple[str, str]]
    keep: list[str]

    @property
    def best(self) -> Attempt | None:
        """The attempt to repeat: the sharpest where pictures were checked, else the likeliest."""
        return best_attempt(self.attempts, self.reviewed)


def gather(folder: Path) -> Story:
    """Read a session. Raises UserError when it is none or is damaged."""
    if not folder.is_dir():
        raise UserError(f"session folder {folder} does not exist")
    if not session.is_session(folder):
        raise UserError(f"{folder} is not a session: it holds no {session.SET_UP_FILE}")
    set_up = set_ups.load(folder / session.SET_UP_FILE)
    attempts = session.read_record(folder)
    scores = rehearsal.read_scores(folder)
    checked = read_reviews(folder)
    reviewed = best_pictures(checked)
    zone = zone_of(set_up)
    return Story(
        name=set_up.name or printable(folder.resolve().name),
        folder=folder,
        set_up=set_up,
        zone=zone,
        attempts=attempts,
        rehearsals=scores,
        reviewed=reviewed,
        pictures=len(checked),
        set_up_facts=_set_up_facts(set_up),
        plan_facts=plan_facts(set_up, zone),
        keep=_keep(set_up, zone, attempts, scores, reviewed),
    )


def metres(value: float) -> str:
    """A distance in words."""
    return f"{value:.2f} m" if math.isfinite(value) else "infinity"


def zone_of(set_up: SetUp) -> Zone:
    """The focus zone of a set-up, from the sensor plane."""
    offset_m, field = set_up.sensor_offset_m, set_up.depth_of_field
    return Zone(
        float(field.near_m) + offset_m,
        float(field.far_m) + offset_m,
        set_up.lens.focus_distance_m,
    )


def _set_up_facts(set_up: SetUp) -> list[tuple[str, str]]:
    lens, person = set_up.lens, set_up.person
    criterion = set_up.criterion
    return [
        ("lens", f"{lens.focal_length_mm:g} mm at f/{lens.f_number:g}"),
        ("focused at", f"{metres(lens.focus_distance_m)} from the sensor plane"),
        ("sensor", f"{set_up.sensor.width_m * 1000:g} x {set_up.sensor.height_m * 1000:g} mm"),
        (
            "counts as sharp",
            f"{criterion.circle_of_confusion_m * 1000:.3f} mm on the sensor ({criterion.basis})",
        ),
        ("stature", "not given" if person.stature_m is None else metres(person.stature_m)),
        ("feed", "through the taking lens" if set_up.feed.through == "taking-lens" else "own lens"),
    ]


def plan_facts(set_up: SetUp, zone: Zone) -> list[tuple[str, str]]:
    """What follows from a set-up, names and values in words."""
    f_m, s_m = set_up.focal_length_m, set_up.focus_lens_distance_m
    hyperfocal_m = float(
        thin_lens.hyperfocal_m(f_m, set_up.lens.f_number, set_up.criterion.circle_of_confusion_m)
    )
    magnification = float(thin_lens.magnification(f_m, s_m))
    room_behind = "no end" if math.isinf(zone.far_m) else metres(zone.far_m - zone.focus_m)
    return [
        ("sharp from", f"{metres(zone.near_m)} to {metres(zone.far_m)}"),
        ("room in front of the mark", metres(zone.focus_m - zone.near_m)),
        ("room behind it", room_behind),
        ("hyperfocal distance", metres(hyperfocal_m)),
        (
            "picture covers at the mark",
            f"{set_up.sensor.width_m / magnification:.2f} by "
            f"{set_up.sensor.height_m / magnification:.2f} m (camera level and upright)",
        ),
    ]


def _of_the_best(best: Attempt, checked: CheckedPicture | None) -> list[str]:
    """Whether its place is to be kept; nothing where the place is not known."""
    if best.distance_m is None:
        return []
    where = f"attempt {best.attempt}, eyes at {best.distance_m:.2f} m"
    if checked is not None:
        where += f" (its picture is {checked.verdict})"
        if checked.verdict in _GOOD:
            return [f"Keep: the place of {where}."]
        return [f"No picture is surely sharp yet; the nearest to it is {where}."]
    if called_in_focus(best):
        return [f"Keep: the place of {where} ({best.p_in_focus:.0%} likely in focus)."]
    return [f"In no attempt were you surely in focus; the nearest to it is {where}."]


def _keep(
    set_up: SetUp,
    zone: Zone,
    attempts: list[Attempt],
    scores: list[RunScore],
    reviewed: dict[int, CheckedPicture],
) -> list[str]:
    """What to keep and what to change."""
    best = best_attempt(attempts, reviewed)
    said = [] if best is None else _of_the_best(best, reviewed.get(best.attempt))
    places = [a.to_mark_m for a in attempts if a.to_mark_m is not None]
    if len(places) >= 2:
        usual_m = statistics.median(places)
        if abs(usual_m) > _FAR_FROM_MARK_M:
            side = "behind" if usual_m > 0 else "in front of"
            said.append(
                f"Change: you were {abs(usual_m):.2f} m {side} the mark on the whole. Tape the "
                f"mark where your eyes should be, or focus at {zone.focus_m + usual_m:.2f} m."
            )
        spread_m = statistics.pstdev(places)
        room_m = min(zone.focus_m - zone.near_m, zone.far_m - zone.focus_m)
        if spread_m > room_m:
            said.append(
                f"Change: your place varied by {spread_m:.2f} m, more than the {room_m:.2f} m of "
                "room. Stop down, or put mark and focus farther off (look behind you)."
            )
    focused = [a for a in attempts if a.verdict == Verdict.IN_FOCUS.value]
    soft = [a for a in focused if _verdict(reviewed, a) == Sharpness.SOFT.value]
    if soft:
        numbers = ", ".join(str(a.attempt) for a in soft)
        said.append(
            f"Check the focus: the feed said in focus, the picture is soft (attempt {numbers}). "
            "Focus again on a stand-in at the mark and lock it."
        )
    moved = {cause.value for cause in MOVEMENT} & {p.cause for p in reviewed.values()}
    for cause in sorted(moved):
        said.append(f"Change: {cause} in at least one picture. See the review for the shutter.")
    failed = [a for a in attempts if a.problem]
    if failed:
        said.append(f"Mend: {failed[-1].problem} (attempt {failed[-1].attempt}).")
    cut = sorted({part for a in attempts for part in a.cut})
    if cut:
        said.append(f"Framing: the picture's edge cut {', '.join(cut)} at least once.")
    if scores:
        lines = rehearsal.advise(scores, set_up.depth_of_field)[:3]
        said += [f"Rehearsal: {line}." for line in lines]
    if not said:
        said.append("Nothing was tried yet: the set-up is all there is to keep.")
    return said


def _verdict(reviewed: dict[int, CheckedPicture], attempt: Attempt) -> str | None:
    checked = reviewed.get(attempt.attempt)
    return None if checked is None else checked.verdict
