"""Rehearsal: the whole run without firing, each run scored, and advice from the scores."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from assist.base import journal
from assist.base.journal import JournalWriter
from assist.base.reading import parse_json
from assist.base.trouble import Notices, Trouble, of_recording
from assist.base.words import _, current
from assist.guidance.assistant import Moment
from assist.guidance.verdict import Verdict
from assist.session.folder import Metres, Number, OneOfSeveral, Session, people_of
from assist.session.told import parts_told
from optics.focus_zone import FocusZone

RECORD_FILE = "rehearsals.jsonl"
WATCH_AFTER_S = 4.0
"""How long a run is watched beyond zero, to see by how much the person was late."""
_STEADY_OVER_S = 1.0
_SETTLE_S = 1.0
"""What a comfortable self-timer leaves between standing there and the picture."""
_ASTRAY = 0.5
"""Share of the zone on that side of the mark from which on a place is worth mending: nearer to the
mark there is room left for a sway, and coming nearer brings no sharpness that would show."""
_LEAST_ASTRAY_M = 0.05
"""Nobody stops on a mark more exactly, and no distance is measured better. Common practice, no
source."""


_Seconds = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]


class RunScore(BaseModel):
    """How one run went. Distances are in metres from the sensor plane.

    reached_s: from the start until the eyes were in the zone for the last time before the end of
        the run, None when they never were.   overshoot_m: farthest beyond the zone, after having
        been in it; 0 for none.   distance_m, to_mark_m, p_in_focus, verdict, framing, cut: at zero.
    sway_m: standard deviation of the eyes' distance over the last second before zero.
    people: each of several, at zero; what is said of all is then of whoever was last, went farthest
        beyond, or moved most, and the distance that of whoever was told what to do.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    version: Literal[1] = 1
    run: Number
    taken_at: datetime
    countdown_s: _Seconds
    reached_s: _Seconds | None
    overshoot_m: Metres
    distance_m: Metres | None
    to_mark_m: Metres | None
    p_in_focus: Annotated[float, Field(ge=0, le=1)]
    verdict: str
    framing: str | None
    cut: tuple[str, ...] = ()
    sway_m: Metres | None
    people: tuple[OneOfSeveral, ...] = ()

    @property
    def in_focus(self) -> bool:
        """Whether the picture would have been in focus."""
        return self.verdict == Verdict.IN_FOCUS.value

    @property
    def spare_s(self) -> float | None:
        """Time left at the mark before zero; negative when late."""
        return None if self.reached_s is None else self.countdown_s - self.reached_s


@dataclass(frozen=True, slots=True)
class _Sample:
    """Distances of the eyes from the lens, of each of those who are to be in focus."""

    time_s: float
    eyes_m: tuple[float | None, ...]


def _sample(moment: Moment) -> _Sample:
    each = [moment.assessment]
    if moment.group is not None:
        members = sorted(moment.group.members, key=lambda member: member.number)
        each = [member.assessment for member in members]
    return _Sample(
        moment.frame.time_s,
        tuple(None if one.distance is None else one.distance.eyes_m for one in each),
    )


def score(
    moments: Sequence[Moment],
    start_s: float,
    countdown_s: float,
    zone: FocusZone,
    run: int,
    taken_at: datetime,
) -> RunScore:
    """Score the run that started at `start_s` from its moments, those after zero included."""
    zero_s = start_s + countdown_s
    samples = [_sample(m) for m in moments if m.frame.time_s >= start_s]
    entered_s: float | None = None
    were_in: set[int] = set()
    overshoot_m = 0.0
    for sample in samples:
        inside = {k for k, m in enumerate(sample.eyes_m) if m is not None and zone.holds(m)}
        if len(inside) == len(sample.eyes_m) and entered_s is None:
            entered_s = sample.time_s
        for k, eyes_m in enumerate(sample.eyes_m):
            if eyes_m is not None and k not in inside:
                entered_s = None
                if k in were_in and sample.time_s <= zero_s:
                    beyond_m = max(zone.near_m - eyes_m, eyes_m - zone.far_m)
                    overshoot_m = max(overshoot_m, beyond_m)
        were_in |= inside
    at_zero = max((m for m in moments if m.frame.time_s <= zero_s), key=lambda m: m.frame.time_s)
    last = [s.eyes_m for s in samples if zero_s - _STEADY_OVER_S <= s.time_s <= zero_s]
    each = [[m for m in of_one if m is not None] for of_one in zip(*last, strict=True)]
    sway = [statistics.pstdev(known) for known in each if len(known) > 2]
    distance = at_zero.assessment.distance
    return RunScore(
        run=run,
        taken_at=taken_at,
        countdown_s=countdown_s,
        reached_s=None if entered_s is None else entered_s - start_s,
        overshoot_m=overshoot_m,
        distance_m=None if distance is None else zone.from_sensor_m(distance.eyes_m),
        to_mark_m=at_zero.guidance.to_mark_m,
        p_in_focus=at_zero.assessment.p_in_focus,
        verdict=at_zero.assessment.verdict.value,
        framing=None if at_zero.framing is None else at_zero.framing.shows,
        cut=() if at_zero.framing is None else at_zero.framing.cut,
        sway_m=max(sway, default=None),
        people=people_of(at_zero, zone),
    )


def advise(scores: Sequence[RunScore], zone: FocusZone) -> list[str]:
    """What to change for the next run, the most useful first; from the last three runs.

    `zone` is where the runs ended in focus.
    """
    recent, say = scores[-3:], current()
    if not recent:
        return []
    found = []
    countdown_s = recent[-1].countdown_s
    spare = [s.spare_s for s in recent if s.spare_s is not None]
    if len(spare) < len(recent):
        found.append(
            _(
                "the zone was not reached in {missed} of {runs} runs: mark the ground, or give "
                "yourself more time",
                missed=len(recent) - len(spare),
                runs=len(recent),
            )
        )
    if spare and min(spare) < _SETTLE_S:
        found.append(_of_the_timer(countdown_s, min(spare)))
    places = [s.to_mark_m for s in recent if s.to_mark_m is not None]
    if places:
        usual_m = statistics.median(places)
        room_m = zone.behind_m if usual_m > 0 else zone.in_front_m
        if abs(usual_m) > max(_LEAST_ASTRAY_M, _ASTRAY * room_m):
            by = say.figure(abs(usual_m), 2)
            found.append(
                _("you stop {by} m behind the mark: come further forward", by=by)
                if usual_m > 0
                else _("you stop {by} m in front of the mark: stop sooner", by=by)
            )
    overshoot_m = max(s.overshoot_m for s in recent)
    if overshoot_m > 0.1:
        found.append(
            _(
                "you went {by} m past the zone and back: go more slowly there",
                by=say.figure(overshoot_m, 1),
            )
        )
    restless = [s.sway_m for s in recent if s.sway_m is not None and s.sway_m > 0.03]
    if restless:
        found.append(
            _(
                "you still moved by {by} cm at zero: hold still a little longer",
                by=f"{max(restless) * 100:.0f}",
            )
        )
    cut = sorted({part for s in recent for part in s.cut})
    if cut:
        found.append(_("out of the picture: {parts}", parts=parts_told(cut)))
    if not found:
        found.append(_("ready: in focus, in time and still"))
    return found


def _of_the_timer(countdown_s: float, spare_s: float) -> str:
    """What to do about a self-timer that leaves `spare_s` at the mark, less than is comfortable."""
    say = current()
    words = {
        "countdown": say.decimal(f"{countdown_s:g}"),
        "longer": say.decimal(f"{_next_timer_s(countdown_s - spare_s + _SETTLE_S):g}"),
    }
    if spare_s < 0:
        by = say.figure(-spare_s, 1)
        return _("{countdown} s is too short by {by} s: take a timer of {longer} s", by=by, **words)
    by = say.figure(spare_s, 1)
    return _(
        "{countdown} s leaves only {by} s to settle: take a timer of {longer} s", by=by, **words
    )


def _next_timer_s(least_s: float) -> float:
    """The shortest of the delays that cameras usually offer, else the whole second above."""
    for delay_s in (2.0, 5.0, 10.0, 20.0, 30.0):
        if delay_s >= least_s:
            return delay_s
    return float(-(-least_s // 1))


def read_scores(folder: Path) -> list[RunScore]:
    """The scores kept in a session's folder; a last line cut short is passed over."""
    return journal.read(folder / RECORD_FILE, _score_of)


def _score_of(line: bytes) -> RunScore:
    return RunScore.model_validate(parse_json(line))


class ScoreBook:
    """The scores in a session's folder; each new one is on the disk as soon as it is kept.

    What the disk does not take is told by `notices`, held, and tried again with the next score and
    by `settle`. Raises UserError when the scores that are there cannot be read or gone on with.
    """

    def __init__(self, session: Session, notices: Notices) -> None:
        self._session = session
        self._notices = notices
        self.earlier = read_scores(session.folder)
        self._journal = JournalWriter(session.folder / RECORD_FILE, _score_of)

    def keep(self, scored: RunScore) -> None:
        """Add a score; never raises for what happens to disks and folders."""
        self._journal.hold(scored.model_dump_json())
        try:
            if self._session.look_after():
                self._notices.tell(Trouble.FOLDER_AGAIN)
            self._journal.write()
        except OSError as error:
            self._notices.tell(
                of_recording(error), _("score not written: {why}", why=error.strerror)
            )

    def settle(self) -> Path | None:
        """Write what could not be so far; elsewhere, if need be, and then say where.

        Raises UserError when it can be written nowhere.
        """
        return self._journal.settle()


class Rehearsal:
    """Collects the moments of run after run and scores each when it has been watched to its end.

    `keep` is called with each score as it is made.
    """

    AWAY_S = 2.0

    def __init__(
        self,
        countdown_s: float,
        zone: FocusZone,
        first_run: int = 1,
        keep: Callable[[RunScore], None] = lambda _score: None,
    ) -> None:
        self._countdown_s = countdown_s
        self._zone = zone
        self._next_run = first_run
        self._keep = keep
        self._moments: list[Moment] = []
        self._start_s: float | None = None
        self._away_since_s: float | None = None
        self.scores: list[RunScore] = []

    @property
    def between_runs(self) -> bool:
        """Whether the next run may start."""
        return self._start_s is None

    def start(self, time_s: float) -> None:
        """A run's countdown starts now."""
        self._start_s, self._moments, self._away_since_s = time_s, [], None

    def see(self, moment: Moment, taken_at: datetime) -> RunScore | None:
        """Take in a moment; the score, at the moment that ends a run."""
        if self._start_s is None:
            return None
        self._moments.append(moment.without_picture())
        if moment.frame.time_s < self._start_s + self._countdown_s + WATCH_AFTER_S:
            return None
        return self.finish(taken_at)

    def finish(self, taken_at: datetime) -> RunScore | None:
        """Score the run in hand, if it got as far as zero; the feed may end before its time."""
        start_s, moments = self._start_s, self._moments
        self._start_s, self._moments = None, []
        if start_s is None or not moments:
            return None
        if moments[-1].frame.time_s < start_s + self._countdown_s:
            return None
        scored = score(
            moments,
            start_s,
            self._countdown_s,
            self._zone,
            self._next_run,
            taken_at,
        )
        self._next_run += 1
        self.scores.append(scored)
        self._keep(scored)
        return scored

    def ready_for_next(self, moment: Moment) -> bool:
        """Whether, between runs, the person has been out of the picture for two seconds."""
        time_s = moment.frame.time_s
        if not self.between_runs or moment.pose is not None:
            self._away_since_s = None
            return False
        if self._away_since_s is None:
            self._away_since_s = time_s
        return time_s - self._away_since_s >= self.AWAY_S
