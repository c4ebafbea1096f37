"""A rehearsal: the live run without a picture, over a camera or a recording each, scored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from assist.base.errors import UserError
from assist.guidance.assistant import Moment
from assist.guidance.countdown import TimerOptions
from assist.run.live import LiveOptions, LiveOutcome
from assist.run.opening import OpenFeed, OpenRun, RunRequest, UserLines, opened
from assist.session.folder import now
from assist.session.rehearsal import Rehearsal, RunScore, ScoreBook


@dataclass
class Rehearsed:
    """What came of a rehearsal.

    before: scores that the session held already.   scores: those of now, run by run.
    problems: what went wrong, a line each.   kept_elsewhere: where the scores are, if the session's
    folder did not take them.
    """

    before: list[RunScore] = field(default_factory=list)
    scores: list[RunScore] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    kept_elsewhere: Path | None = None


def rehearse(
    request: RunRequest,
    names: Sequence[str],
    countdown_s: float,
    runs: int = 3,
    *,
    keep: Path | None = None,
    lines: UserLines | None = None,
) -> Rehearsed:
    """Rehearse on the feeds of those names, with a self-timer of `countdown_s` seconds.

    runs: after so many a camera's rehearsal ends; a recording is watched to its end.   keep: the
    session's folder that the scores go to, None for nowhere.   lines: as of
    `assist.run.opening.opened`.

    An interrupt ends it, and what was scored by then is given. Raises UserError when something does
    not open, and KeyboardInterrupt when nothing was scored yet; what fails later is a problem.
    """
    how = replace(request.how, timer=TimerOptions(countdown_s))
    request = replace(request, how=how)
    done = Rehearsed()
    with opened(request, names, keep=keep, real_time=None, lines=lines) as on:
        book = None if on.session is None else ScoreBook(on.session, on.notices)
        done.before = [] if book is None else book.earlier
        rehearsal = Rehearsal(
            countdown_s,
            request.set_up.focus_zone,
            len(done.before) + 1,
            (lambda _: None) if book is None else book.keep,
        )
        done.scores = rehearsal.scores
        try:
            for feed in on.feeds:
                how_here = replace(how, timer_at_once=not feed.source.live)
                outcome = _over(on, feed, how_here, rehearsal, runs)
                done.problems += outcome.problems
                if outcome.quit:
                    break
        except UserError as error:  # what was scored before is told all the same
            done.problems.append(str(error))
        except KeyboardInterrupt:  # between two feeds
            if not rehearsal.scores:
                raise
        if book is not None:
            try:
                done.kept_elsewhere = book.settle()
            except UserError as error:
                done.problems.append(str(error))
    return done


def _over(
    on: OpenRun, feed: OpenFeed, how: LiveOptions, rehearsal: Rehearsal, runs: int
) -> LiveOutcome:
    """Rehearse on one feed."""
    camera = feed.source.live

    def watch(moment: Moment) -> None:
        started_s = live.timer_started_s
        if rehearsal.between_runs and live.timer_running and started_s is not None:
            rehearsal.start(started_s)
        rehearsal.see(moment, now())
        if len(rehearsal.scores) >= runs and camera:
            live.stop()
        elif rehearsal.ready_for_next(moment) and camera and not live.timer_running:
            live.start_timer(moment.frame.arrived_s)

    with on.run(feed, how, on_moment=watch) as live:
        try:
            return live.run()
        finally:
            rehearsal.finish(now())
