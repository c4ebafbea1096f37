"""What a session teaches for the next one: what to keep, what to change, the most useful first."""

from __future__ import annotations

import statistics

from assist.base import terms
from assist.base.words import _, _n, current
from assist.guidance.verdict import Verdict
from assist.report.formats import metres
from assist.review.best_attempt import best_attempt, called_in_focus
from assist.review.checked import MOVEMENT, CheckedPicture, Sharpness
from assist.session import rehearsal
from assist.session.folder import Attempt
from assist.session.rehearsal import RunScore
from assist.setup.set_up import SetUp
from optics.focus_zone import FocusZone

_FAR_FROM_MARK_M = 0.10
_MOST_NAMED = 5
_MOVEMENT = frozenset(cause.value for cause in MOVEMENT)
_GOOD = (Sharpness.SHARP.value, Sharpness.ACCEPTABLE.value)


def to_keep_or_change(
    set_up: SetUp,
    attempts: list[Attempt],
    scores: list[RunScore],
    reviewed: dict[int, CheckedPicture],
) -> list[str]:
    """What to keep and what to change; `reviewed` are the checked pictures by attempt."""
    zone = set_up.focus_zone
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
    said += _about_the_focus(attempts, reviewed)
    for cause in sorted(_MOVEMENT & {p.cause for p in reviewed.values()}):
        said.append(
            _(
                "Change: {cause} (in at least one picture). See the review for the shutter.",
                cause=terms.told(cause),
            )
        )
    failed = [a for a in attempts if a.problem]
    if failed:
        last = failed[-1]
        said.append(
            _("Mend: {problem} (attempt {number}).", problem=last.problem, number=last.attempt)
        )
    cut = sorted({part for a in attempts for part in a.cut})
    if cut:
        parts = ", ".join(terms.body_part(part) for part in cut)
        said.append(_("Framing: the picture's edge cut {parts} at least once.", parts=parts))
    if scores:
        lines = rehearsal.advise(scores, zone)[:3]
        said += [_("Rehearsal: {advice}.", advice=line) for line in lines]
    return said or [_nothing_said(attempts)]


def of_another_zone(others: dict[int, list[tuple[str, str]]]) -> list[str]:
    """A line for a record in which there are such: today a run with another zone is refused."""
    if not others:
        return []
    were = [
        _(
            "attempt {number} with {optics}",
            number=number,
            optics=", ".join(x for x, _now in unlike),
        )
        for number, unlike in others.items()
    ]
    if len(were) > _MOST_NAMED:
        were = [*were[:_MOST_NAMED], _("{count} more", count=len(were) - _MOST_NAMED)]
    return [_("Not of this set-up, and left out here: {attempts}.", attempts="; ".join(were))]


def _of_the_best(best: Attempt, checked: CheckedPicture | None) -> list[str]:
    """Whether its place is to be kept; nothing where the place is not known."""
    if best.distance_m is None:
        return []
    attempt, distance = best.attempt, metres(best.distance_m)
    if checked is not None:
        verdict = _verdict_in_words(checked)
        if checked.verdict in _GOOD:
            return [
                _(
                    "Keep: the place of attempt {number}, eyes at {distance} (its picture is "
                    "{verdict}).",
                    number=attempt,
                    distance=distance,
                    verdict=verdict,
                )
            ]
        return [
            _(
                "No picture is surely sharp yet; the nearest to it is attempt {number}, eyes at "
                "{distance} (its picture is {verdict}).",
                number=attempt,
                distance=distance,
                verdict=verdict,
            )
        ]
    if called_in_focus(best):
        return [
            _(
                "Keep: the place of attempt {number}, eyes at {distance} ({percent}% likely in "
                "focus).",
                number=attempt,
                distance=distance,
                percent=current().figure(100 * best.p_in_focus, 0),
            )
        ]
    return [
        _(
            "In no attempt were you surely in focus; the nearest to it is attempt {number}, eyes "
            "at {distance}.",
            number=attempt,
            distance=distance,
        )
    ]


def _verdict_in_words(checked: CheckedPicture) -> str:
    """The verdict, naming the print where it is one for that."""
    if checked.verdict == Sharpness.ACCEPTABLE.value and checked.print_size:
        return _("acceptable for a print {size}", size=terms.print_size(checked.print_size))
    return terms.told(checked.verdict)


def _right(attempt: Attempt, reviewed: dict[int, CheckedPicture]) -> bool:
    """Whether it was in focus: by its picture, where one was checked, else as the feed said."""
    checked = reviewed.get(attempt.attempt)
    return called_in_focus(attempt) if checked is None else checked.verdict in _GOOD


def _moved(attempt: Attempt, reviewed: dict[int, CheckedPicture]) -> bool:
    """Whether its picture is blurred by movement."""
    checked = reviewed.get(attempt.attempt)
    return checked is not None and checked.cause in _MOVEMENT


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
    off, number = metres(abs(usual_m)), next(iter(others))
    if usual_m > 0:
        where = _n(
            "Change: in attempt {number}, which was not right, you were {off} behind that place.",
            "Change: in the {n} attempts that were not right, you were {off} behind that place.",
            len(others),
            number=number,
            off=off,
        )
    else:
        where = _n(
            "Change: in attempt {number}, which was not right, you were {off} in front of that "
            "place.",
            "Change: in the {n} attempts that were not right, you were {off} in front of that "
            "place.",
            len(others),
            number=number,
            off=off,
        )
    tape = _("Tape a mark there, under your eyes.")
    return [f"{where} {tape}"]


def _about_the_mark(places: list[float], zone: FocusZone) -> list[str]:
    """Where nobody was right yet: how far from the mark they stood on the whole."""
    if len(places) < 2:
        return []
    usual_m = statistics.median(places)
    if abs(usual_m) <= _FAR_FROM_MARK_M:
        return []
    off = metres(abs(usual_m))
    where = (
        _("Change: you were {off} behind the mark on the whole.", off=off)
        if usual_m > 0
        else _("Change: you were {off} in front of the mark on the whole.", off=off)
    )
    tape = _(
        "Tape the mark where your eyes should be, or focus at {distance}.",
        distance=metres(zone.best_from_sensor_m + usual_m),
    )
    return [f"{where} {tape}"]


def _about_the_spread(places: list[float], zone: FocusZone, kept: Attempt | None) -> list[str]:
    room_m = min(zone.in_front_m, zone.behind_m)
    if len(places) < 2 or statistics.pstdev(places) <= room_m:
        return []
    varied = _(
        "Change: your place varied by {spread}, more than the {room} of room.",
        spread=metres(statistics.pstdev(places)),
        room=metres(room_m),
    )
    do = (
        _("Stop down, or put mark and focus farther off (look behind you).")
        if kept is None
        else _(
            "Stop down, or practise the way to the place of attempt {number}.", number=kept.attempt
        )
    )
    return [f"{varied} {do}"]


def _about_the_focus(attempts: list[Attempt], reviewed: dict[int, CheckedPicture]) -> list[str]:
    """Whether somebody was in the zone and the picture is soft all the same."""
    soft = [
        a
        for a in attempts
        if a.verdict == Verdict.IN_FOCUS.value
        and a.attempt in reviewed
        and reviewed[a.attempt].verdict == Sharpness.SOFT.value
        and not _moved(a, reviewed)
    ]
    if not soft:
        return []
    return [
        _(
            "Check the focus: the feed said in focus, the picture is soft (attempt {numbers}). "
            "Focus again on a stand-in at the mark and lock it.",
            numbers=", ".join(str(a.attempt) for a in soft),
        )
    ]


def _nothing_said(attempts: list[Attempt]) -> str:
    if not attempts:
        return _("Nothing was tried yet: the set-up is all there is to keep.")
    if all(a.verdict == Verdict.NO_ONE.value for a in attempts):
        return _n(
            "In the one attempt nobody was seen: the set-up is all there is to keep.",
            "In none of the {n} attempts was anybody seen: the set-up is all there is to keep.",
            len(attempts),
        )
    return _n(
        "In the one attempt no distance was known: the set-up is all there is to keep.",
        "In none of the {n} attempts was a distance known: the set-up is all there is to keep.",
        len(attempts),
    )
