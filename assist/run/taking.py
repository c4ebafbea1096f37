"""Taking the picture: the trigger fired, and what came of it recorded and told.

The countdown says when, and `assist.camera.trigger` what takes it; here it is numbered, written
down with the state of things when it was ordered, and never lost sight of, whatever fails.
"""

from __future__ import annotations

import math
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

from assist.base.errors import UserError
from assist.base.files import printable
from assist.base.trouble import Notices, Trouble, of_recording, of_writing
from assist.base.words import _
from assist.camera.background import BackgroundTrigger, Done
from assist.camera.trigger import Fired, Trigger
from assist.feed import Frame
from assist.guidance.assistant import Moment
from assist.guidance.at_zero import at_zero
from assist.guidance.countdown import CountdownState
from assist.session.folder import Attempt, Session, now, people_of, plausible_m
from assist.setup.set_up import SetUp

_LOOK_EVERY_S = 1.0
_TRIGGER_GETS_S = 35.0
"""How long the end of a run waits for a picture that is still being taken."""
_REMEMBERED = 600
"""Of how many moments it is known how things stood: 20 s at 30 a second."""
_LATE_S = 0.05
"""A shutter released later than this is recorded with the distance of its own moment."""
_TAKEN_TOLD_S, _NOW_TOLD_S = 8.0, 5.0
"""How long it is told that the picture was taken, or that the camera's own timer ends about now:
time to read it from afar once holding still is over. Common practice, no source."""


@dataclass
class Taken:
    """What came of a run's firings."""

    attempts: list[Attempt] = field(default_factory=list)
    fired_at: list[Moment] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    """What could not be written or let go, one line each, beyond what the attempts say."""
    record_kept: Path | None = None
    """Where the record is, if the session's folder did not take it."""


@dataclass(frozen=True, slots=True)
class _Ticket:
    """What a firing is recorded with: the state of things when it was ordered.

    sentence: what the person was told.   timer_s: when the timer that ordered it was started.
    """

    number: int
    taken_at: datetime
    moment: Moment
    sentence: str
    timer_s: float | None


class PictureTaking:
    """Fires the trigger and records every attempt in the session, as far as there are such.

    taken: where it is noted down.   notices: where trouble is told.   waits: whether `ask` waits
    for a picture that is being taken, as a file that is read fast must, which would be over before.
    on_taken: called with every attempt once it is recorded.
    """

    def __init__(
        self,
        set_up: SetUp,
        feed_name: str,
        session: Session | None,
        trigger: Trigger | None,
        taken: Taken,
        notices: Notices,
        *,
        waits: bool,
        on_taken: Callable[[Attempt], None] = lambda _: None,
    ) -> None:
        self._set_up = set_up
        self._feed_name = feed_name
        self._session = session
        self._trigger: BackgroundTrigger[_Ticket] | None = (
            None if trigger is None else BackgroundTrigger(trigger)
        )
        self._taken = taken
        self._notices = notices
        self._on_taken = on_taken
        self._wait_s = _TRIGGER_GETS_S if waits else 0.0
        self._next_attempt = session.next_attempt if session is not None else 1
        self._hears = trigger is not None and trigger.hears
        self._failed_start_s: float | None = None
        self._done_s = -math.inf
        self._folder_trouble_told = False
        self._next_look_s = 0.0
        self._seen: deque[tuple[float, Moment]] = deque(maxlen=_REMEMBERED)

    def see(self, moment: Moment) -> None:
        """Remember how things stand, for a shutter that is released later than ordered."""
        self._seen.append((time.monotonic(), moment.without_picture()))

    def fire(
        self,
        moment: Moment,
        sentence: str,
        frame: Frame | None,
        timer_s: float | None,
        now_s: float,
        *,
        more: bool = False,
    ) -> int:
        """Order a picture; returns its number.

        frame: the feed's own, None where it has none that is fresh.
        sentence: what the person is told at this moment.
        timer_s: when the timer that orders it was started; it and `now_s` by the feed's clock.
        more: whether another one of a burst follows within a moment.
        """
        number, self._next_attempt = self._next_attempt, self._next_attempt + 1
        own = self._trigger is not None and self._trigger.needs_picture and frame is not None
        taken_s = frame.time_s if own and frame is not None else now_s
        there = at_zero(moment, self._set_up.focus_zone, taken_s)
        ticket = _Ticket(number, now(), there, sentence, timer_s)
        if self._trigger is None:
            self._finish(Done(ticket, Fired("none")), now_s)
        elif frame is not None or not self._trigger.needs_picture:
            # A camera of its own takes its picture whatever has become of the feed.
            given = moment.frame.picture if frame is None else frame.picture
            self._trigger.fire(given, number, ticket, more=more and not self._wait_s)
        else:
            missing = _("no picture came from the feed")
            fired = Fired("frame", None, missing, trouble=Trouble.NO_PICTURE)
            self._finish(Done(ticket, fired), now_s)
        return number

    def ask(self, now_s: float) -> None:
        """Record what the trigger has finished; `now_s` by the feed's clock."""
        if self._trigger is not None:
            for done in self._trigger.poll(self._wait_s):
                self._finish(done, now_s)

    def told(
        self, state: CountdownState, timer_s: float | None, now_s: float
    ) -> CountdownState | None:
        """The timer as it is to be told: "taken" only of a picture that is known to be.

        None when it has been told for long enough: whoever reads it then may move, and the next
        round must not begin under the last one's word. What failed stays.
        timer_s: when it was last started.
        """
        if state.fired and self._hears and self._trigger is not None and self._trigger.pending:
            return replace(state, fired=False, pending=True)
        if self._failed_start_s is not None and self._failed_start_s == timer_s:
            return replace(state, trouble=True)
        if state.fired and now_s - self._done_s > (_TAKEN_TOLD_S if self._hears else _NOW_TOLD_S):
            return None
        return state if self._hears else replace(state, unheard=True)

    def look_after_session(self) -> None:
        """Notice within a second that somebody deleted the folder."""
        now_s = time.monotonic()
        if self._session is None or now_s < self._next_look_s:
            return
        self._next_look_s = now_s + _LOOK_EVERY_S
        try:
            if self._session.look_after():
                self._notices.tell(Trouble.FOLDER_AGAIN)
        except OSError as error:
            if not self._folder_trouble_told:
                self._notices.tell(of_writing(error))
            self._folder_trouble_told = True
        else:
            self._folder_trouble_told = False

    def end(self) -> None:
        """Finish what is under way; what cannot be is noted down, not raised."""
        if self._trigger is not None:
            for done in self._trigger.close(_TRIGGER_GETS_S):
                self._keep(done)
            if self._trigger.closing_problem:
                self._taken.problems.append(self._trigger.closing_problem)
        try:
            if self._session is not None:
                self._taken.record_kept = self._session.settle()
        except UserError as error:
            self._taken.problems.append(str(error))

    def _finish(self, done: Done[_Ticket], now_s: float) -> None:
        """Record it, and have the person told if it failed."""
        self._done_s = now_s
        if done.fired.problem:
            self._notices.tell(done.fired.trouble or Trouble.TRIGGER, done.fired.problem)
        self._keep(done)
        self._failed_start_s = done.ticket.timer_s if done.fired.failed else None

    def _keep(self, done: Done[_Ticket]) -> None:
        attempt = self._attempt(done)
        if self._session is not None:
            try:
                self._session.append(attempt)
            except OSError as error:
                self._notices.tell(of_recording(error))
                problem = _("the record could not be written: {error}", error=error.strerror)
                problems = "; ".join(p for p in (attempt.problem, problem) if p)
                attempt = attempt.model_copy(update={"problem": problems})
        self._taken.attempts.append(attempt)
        self._on_taken(attempt)
        self._taken.fired_at.append(done.ticket.moment.without_picture())

    def _at_release(self, done: Done[_Ticket]) -> Moment:
        """How things stood when the shutter was released.

        A file that is read fast stands still meanwhile, and nothing has changed.
        """
        released_s = done.released_s
        if self._wait_s or released_s is None or done.late_s <= _LATE_S or not self._seen:
            return done.ticket.moment
        _at_s, moment = min(self._seen, key=lambda seen: abs(seen[0] - released_s))
        return moment

    def _attempt(self, done: Done[_Ticket]) -> Attempt:
        ticket, fired, moment = done.ticket, done.fired, self._at_release(done)
        distance = moment.assessment.distance
        return Attempt(
            attempt=ticket.number,
            taken_at=ticket.taken_at + timedelta(seconds=done.late_s),
            late_s=round(done.late_s, 3),
            feed=printable(self._feed_name),
            feed_time_s=moment.frame.time_s,
            verdict=moment.assessment.verdict.value,
            distance_m=(
                None
                if distance is None
                else plausible_m(self._set_up.focus_zone.from_sensor_m(distance.eyes_m))
            ),
            standard_deviation_m=None if distance is None else plausible_m(distance.sd_m),
            p_in_focus=moment.assessment.p_in_focus,
            to_mark_m=plausible_m(moment.guidance.to_mark_m),
            guidance=ticket.sentence,
            framing=None if moment.framing is None else moment.framing.shows,
            cut=() if moment.framing is None else moment.framing.cut,
            trigger=fired.trigger,
            picture=self._picture_name(fired.picture),
            further=tuple(name for f in fired.others if (name := self._picture_name(f))),
            problem=printable(fired.problem),
            exit_code=fired.exit_code,
            on_card=printable(fired.on_card),
            people=people_of(moment, self._set_up.focus_zone),
            set_up=self._set_up.without_secrets.model_dump(mode="json", exclude_none=True),
        )

    def _picture_name(self, picture: Path | None) -> str | None:
        """Its name in the session's folder; its whole path where it is kept elsewhere."""
        if picture is None:
            return None
        here = self._session is None or picture.parent == self._session.folder
        return picture.name if here else str(picture)
