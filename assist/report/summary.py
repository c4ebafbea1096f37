"""What a session's folder tells, gathered and put into words; drawn by the page and the PDF."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from pathlib import Path

from assist.base.errors import UserError
from assist.base.files import printable
from assist.guidance.verdict import Verdict
from assist.review.best import best_attempt, best_pictures, called_in_focus, read_review
from assist.review.checked import MOVEMENT, CheckedPicture, Sharpness
from assist.session import folder as session
from assist.session import rehearsal
from assist.session.folder import Attempt
from assist.session.rehearsal import RunScore
from assist.setup import set_up as set_ups
from assist.setup.set_up import CameraPart, SetUp
from optics import framing
from optics import lens as thin_lens
from optics.focus_zone import FocusZone

_FAR_FROM_MARK_M = 0.10
_MOST_NAMED = 5
_MOVEMENT = frozenset(cause.value for cause in MOVEMENT)
_GOOD = (Sharpness.SHARP.value, Sharpness.ACCEPTABLE.value)


@dataclass(frozen=True)
class SessionSummary:
    """All that a report says.

    best: the attempt to repeat: the sharpest where pictures were checked, else the likeliest.
    set_up_facts, plan_facts: names and values in words.
    reviewed: the checked pictures by attempt, the best of each.
    keep: what to keep or change next time, the most useful first.
    """

    name: str
    folder: Path
    set_up: SetUp
    zone: FocusZone
    attempts: list[Attempt]
    best: Attempt | None
    rehearsals: list[RunScore]
    reviewed: dict[int, CheckedPicture]
    pictures: int
    set_up_facts: list[tuple[str, str]]
    plan_facts: list[tuple[str, str]]
    keep: list[str]


def gather(folder: Path) -> SessionSummary:
    """Read a session. Raises UserError when it is none or is damaged."""
    if not folder.is_dir():
        raise UserError(f"session folder {folder} does not exist")
    if not session.is_session(folder):
        raise UserError(f"{folder} is not a session: it holds no {session.SET_UP_FILE}")
    set_up = set_ups.load(folder / session.SET_UP_FILE)
    attempts = session.read_record(folder)
    scores = rehearsal.read_scores(folder)
    checked = read_review(folder).pictures
    reviewed = best_pictures(checked)
    zone = set_up.focus_zone
    others = {a.attempt: unlike for a in attempts if (unlike := session.unlike(a, set_up))}
    alike = [a for a in attempts if a.attempt not in others]
    theirs = {number: p for number, p in reviewed.items() if number not in others}
    return SessionSummary(
        name=set_up.name or printable(folder.resolve().name),
        folder=folder,
        set_up=set_up,
        zone=zone,
        attempts=attempts,
        best=best_attempt(alike, reviewed),
        rehearsals=scores,
        reviewed=reviewed,
        pictures=len(checked),
        set_up_facts=_set_up_facts(set_up),
        plan_facts=plan_facts(set_up, zone),
        keep=[*_keep(set_up, zone, alike, scores, theirs), *_of_another_zone(others)],
    )


def _of_another_zone(others: dict[int, list[tuple[str, str]]]) -> list[str]:
    """A line for a record in which there are such: today a run with another zone is refused."""
    if not others:
        return []
    were = [
        f"attempt {number} with {', '.join(then for then, _ in unlike)}"
        for number, unlike in others.items()
    ]
    if len(were) > _MOST_NAMED:
        were = [*were[:_MOST_NAMED], f"{len(were) - _MOST_NAMED} more"]
    return [f"Not of this set-up, and left out here: {'; '.join(were)}."]


def metres(value: float) -> str:
    """A distance in words."""
    return f"{value:.2f} m" if math.isfinite(value) else "infinity"


def _camera_in_words(camera: CameraPart) -> str:
    """How it stood: what repeating needs besides the lens."""
    height = "height not given" if camera.height_m is None else f"lens {camera.height_m:.2f} m high"
    if camera.tilt_deg is None:
        tilt = "tilt not given"
    elif camera.tilt_deg == 0:
        tilt = "level"
    else:
        way = "down" if camera.tilt_deg > 0 else "up"
        tilt = f"tilted {abs(camera.tilt_deg):g}\u00b0 {way}"
    return f"{camera.orientation}, {height}, {tilt}"


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
        ("camera", _camera_in_words(set_up.camera)),
        ("stature", "not given" if person.stature_m is None else metres(person.stature_m)),
        ("feed", "through the taking lens" if set_up.feed.through == "taking-lens" else "own lens"),
    ]


def plan_facts(set_up: SetUp, zone: FocusZone) -> list[tuple[str, str]]:
    """What follows from a set-up, names and values in words."""
    f_m, s_m = set_up.focal_length_m, set_up.focus_lens_distance_m
    hyperfocal_m = float(
        thin_lens.hyperfocal_m(f_m, set_up.lens.f_number, set_up.criterion.circle_of_confusion_m)
    )
    magnification = float(thin_lens.magnification(f_m, s_m))
    across_m, up_m = framing.frame_sides_m(set_up.sensor, set_up.camera.orientation)
    room_behind = "no end" if math.isinf(zone.far_from_sensor_m) else metres(zone.behind_m)
    return [
        ("sharp from", f"{metres(zone.near_from_sensor_m)} to {metres(zone.far_from_sensor_m)}"),
        ("room in front of the mark", metres(zone.in_front_m)),
        ("room behind it", room_behind),
        ("hyperfocal distance", metres(hyperfocal_m)),
        (
            "picture covers at the mark",
            f"{across_m / magnification:.2f} by {up_m / magnification:.2f} m, square to the "
            "axis of the lens",
        ),
    ]


def _of_the_best(best: Attempt, checked: CheckedPicture | None) -> list[str]:
    """Whether its place is to be kept; nothing where the place is not known."""
    if best.distance_m is None:
        return []
    where = f"attempt {best.attempt}, eyes at {best.distance_m:.2f} m"
    if checked is not None:
        where += f" (its picture is {checked.verdict_in_words})"
        if checked.verdict in _GOOD:
            return [f"Keep: the place of {where}."]
        return [f"No picture is surely sharp yet; the nearest to it is {where}."]
    if called_in_focus(best):
        return [f"Keep: the place of {where} ({best.p_in_focus:.0%} likely in focus)."]
    return [f"In no attempt were you surely in focus; the nearest to it is {where}."]


def _right(attempt: Attempt, reviewed: dict[int, CheckedPicture]) -> bool:
    """Whether it was in focus: by its picture, where one was checked, else as the feed said."""
    checked = reviewed.get(attempt.attempt)
    return called_in_focus(attempt) if checked is None else checked.verdict in _GOOD


def _moved(attempt: Attempt, reviewed: dict[int, CheckedPicture]) -> bool:
    """Whether its picture is blurred by movement."""
    checked = reviewed.get(attempt.attempt)
    return checked is not None and checked.cause in _MOVEMENT


def _off(by_m: float) -> str:
    return f"{abs(by_m):.2f} m {'behind' if by_m > 0 else 'in front of'}"


def _against_the_place_kept(
    kept: Attempt, attempts: list[Attempt], reviewed: dict[int, CheckedPicture]
) -> list[str]:
    """How far from that place those stood who were not right; what moved, moved there as well."""
    others = {
        a.attempt: a.to_mark_m - kept.to_mark_m
        for a in attempts
        if a.to_mark_m is not None
        and kept.to_mark_m is not None
        and not _right(a, reviewed)
        and not _moved(a, reviewed)
    }
    if not others:
        return []
    usual_m = statistics.median(others.values())
    if abs(usual_m) <= _FAR_FROM_MARK_M:
        return []
    which = (
        f"attempt {next(iter(others))}, which was"
        if len(others) == 1
        else f"the {len(others)} attempts that were"
    )
    return [
        f"Change: in {which} not right, you were {_off(usual_m)} that place. Tape a mark there, "
        "under your eyes."
    ]


def _about_the_mark(places: list[float], zone: FocusZone) -> list[str]:
    """Where nobody was right yet: how far from the mark they stood on the whole."""
    if len(places) < 2:
        return []
    usual_m = statistics.median(places)
    if abs(usual_m) <= _FAR_FROM_MARK_M:
        return []
    return [
        f"Change: you were {_off(usual_m)} the mark on the whole. Tape the mark where your eyes "
        f"should be, or focus at {zone.best_from_sensor_m + usual_m:.2f} m."
    ]


def _about_the_spread(places: list[float], zone: FocusZone, kept: Attempt | None) -> list[str]:
    room_m = min(zone.in_front_m, zone.behind_m)
    if len(places) < 2 or statistics.pstdev(places) <= room_m:
        return []
    do = (
        "Stop down, or put mark and focus farther off (look behind you)."
        if kept is None
        else f"Stop down, or practise the way to the place of attempt {kept.attempt}."
    )
    return [
        f"Change: your place varied by {statistics.pstdev(places):.2f} m, more than the "
        f"{room_m:.2f} m of room. {do}"
    ]


def _nothing_said(attempts: list[Attempt]) -> str:
    unseen = all(a.verdict == Verdict.NO_ONE.value for a in attempts)
    if not attempts:
        what = "Nothing was tried yet"
    elif len(attempts) == 1:
        what = "In the one attempt " + ("nobody was seen" if unseen else "no distance was known")
    else:
        what = f"In none of the {len(attempts)} attempts was "
        what += "anybody seen" if unseen else "a distance known"
    return f"{what}: the set-up is all there is to keep."


def _keep(
    set_up: SetUp,
    zone: FocusZone,
    attempts: list[Attempt],
    scores: list[RunScore],
    reviewed: dict[int, CheckedPicture],
) -> list[str]:
    """What to keep and what to change."""
    best = best_attempt(attempts, reviewed)
    said = [] if best is None else _of_the_best(best, reviewed.get(best.attempt))
    kept = best if best is not None and _right(best, reviewed) else None
    places = [a.to_mark_m for a in attempts if a.to_mark_m is not None]
    # What is to be kept must not be spoilt by what is to be changed.
    if kept is None:
        said += _about_the_mark(places, zone)
    else:
        said += _against_the_place_kept(kept, attempts, reviewed)
    said += _about_the_spread(places, zone, kept)
    focused = [a for a in attempts if a.verdict == Verdict.IN_FOCUS.value]
    soft = [
        a
        for a in focused
        if _verdict(reviewed, a) == Sharpness.SOFT.value and not _moved(a, reviewed)
    ]
    if soft:
        numbers = ", ".join(str(a.attempt) for a in soft)
        said.append(
            f"Check the focus: the feed said in focus, the picture is soft (attempt {numbers}). "
            "Focus again on a stand-in at the mark and lock it."
        )
    for cause in sorted(_MOVEMENT & {p.cause for p in reviewed.values()}):
        said.append(f"Change: {cause} (in at least one picture). See the review for the shutter.")
    failed = [a for a in attempts if a.problem]
    if failed:
        said.append(f"Mend: {failed[-1].problem} (attempt {failed[-1].attempt}).")
    cut = sorted({part for a in attempts for part in a.cut})
    if cut:
        said.append(f"Framing: the picture's edge cut {', '.join(cut)} at least once.")
    if scores:
        lines = rehearsal.advise(scores, set_up.focus_zone)[:3]
        said += [f"Rehearsal: {line}." for line in lines]
    return said or [_nothing_said(attempts)]


def _verdict(reviewed: dict[int, CheckedPicture], attempt: Attempt) -> str | None:
    checked = reviewed.get(attempt.attempt)
    return None if checked is None else checked.verdict
