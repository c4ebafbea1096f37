"""A run's feeds, session, sound, second screen and pose network: opened, and closed again.

with opened(request, ["0"], keep=folder) as on, on.run(on.feeds[0], request.how) as live:
outcome = live.run()
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assist.base.trouble import Notices, Trouble
from assist.base.words import Words, _
from assist.camera.trigger import Trigger
from assist.feed import Source
from assist.feed.opening import open_feed
from assist.guidance import hazards
from assist.guidance.assistant import Known, Moment
from assist.guidance.narrator import is_narrow
from assist.guidance.narrow_zone import narrow_zone
from assist.guidance.narrow_zone import told as told_of_narrow_zone
from assist.output.listeners import Listener, Listeners, Order
from assist.output.terminal import Progress
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import assumptions, bars_told, delay_told
from assist.run.feed_remarks import FeedRemarks
from assist.run.live import LiveOptions, LiveRun
from assist.run.repeat.guide import RepeatGuide
from assist.run.second_screen import Sharing, open_second_screen
from assist.run.telling import Audible, open_listeners
from assist.session.focus_learned import FocusLearned
from assist.session.folder import Session
from assist.setup.body import Person
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp

Line = Callable[[str], None]
"""Takes one line for the user."""


def unheard(_line: str) -> None:
    """For lines that nobody reads."""


@dataclass(frozen=True)
class UserLines:
    """Where a run's lines go for whoever started it, who need not be the person in the picture.

    fact: takes what the run goes by, and where the second screen is.   note: takes remarks and
    warnings.   draw_code: whether the second screen's QR code is a fact too, drawn in characters.
    """

    fact: Line = unheard
    note: Line = unheard
    draw_code: bool = False


@dataclass(frozen=True)
class RunRequest:
    """What is wanted of one run or several; nothing is open yet.

    how: the run itself; `known` and `rotated_deg` of it hold for the feeds too.
    people: how many to look for.   pose_model: a pose landmarker bundle, None for the one that
    comes along.   sharing: the second screen, None for none.
    """

    set_up: SetUp
    how: LiveOptions = field(default_factory=LiveOptions)
    say: Words = field(default_factory=Words)
    people: int = 1
    pose_model: Path | None = None
    audible: Audible = field(default_factory=Audible)
    sharing: Sharing | None = None

    @property
    def known(self) -> Known:
        """What calibrations taught."""
        return self.how.known


@dataclass
class OpenFeed:
    """A feed that is open, closed by the run once there is one.

    Only the run knows whether a driver still hangs in it, and it must not be closed then.
    """

    name: str
    source: Source
    with_run: bool = False

    def close(self) -> None:
        """Free it, unless a run does."""
        if not self.with_run:
            self.source.close()


class OpenRun:
    """Feeds, session and listeners, open; `opened` closes them."""

    def __init__(
        self,
        request: RunRequest,
        feeds: Sequence[OpenFeed],
        session: Session | None,
        listener: Listener,
        notices: Notices,
        *,
        nobody_told: bool,
        lines: UserLines,
        orders: Callable[[], Sequence[Order]] = tuple,
    ) -> None:
        self._orders = orders
        self._request = request
        self._listener = listener
        self._nobody_told = nobody_told
        self._begun = False
        self._lines = lines
        self._remarks = FeedRemarks(request.set_up, lines.note)
        self._delays = delay_told.DelayRemarks(request.set_up, request.known, lines.note)
        self.feeds = feeds
        self.session = session
        self.notices = notices

    def _warn_of_narrow_zone(self, how: LiveOptions) -> None:
        set_up, known = self._request.set_up, self._request.known
        narrow = narrow_zone(
            set_up,
            Person(set_up.person.stature_m, known.person),
            FeedGeometry.of(set_up, known.feed, known.person),
        )
        if narrow is not None and not how.teach_mark:
            self._lines.note(told_of_narrow_zone(narrow))

    @contextlib.contextmanager
    def run(
        self,
        feed: OpenFeed,
        how: LiveOptions,
        *,
        session: Session | None = None,
        trigger: Trigger | None = None,
        repeat: RepeatGuide | None = None,
        focus_before: FocusLearned | None = None,
        on_moment: Callable[[Moment], None] = lambda _: None,
    ) -> Iterator[LiveRun]:
        """A run over one of the feeds, not begun yet, with a pose network and a line of progress.

        `session` and `trigger` are for a run that takes pictures.
        """
        request = self._request
        with (
            MediaPipePoseDetector(
                request.pose_model, people=request.people, lookout=True
            ) as detector,
            Progress(feed.source) as progress,
        ):

            def seen(moment: Moment) -> None:
                if not self._begun:
                    self._begun = True
                    self._lines.fact(assumptions.in_one_line(request.set_up, request.known))
                    self._warn_of_narrow_zone(how)
                    if feed.source.live and math.isfinite(moment.frame.doubt_s):
                        self._lines.fact(delay_told.in_one_line(request.set_up, request.known))
                self._remarks.see(moment)
                if feed.source.live:
                    self._delays.see(moment.frame)
                progress.show(moment)
                on_moment(moment)

            run = LiveRun(
                request.set_up,
                feed.source,
                detector,
                how,
                session=session,
                trigger=trigger,
                on_moment=seen,
                feed_name=feed.name,
                listener=Listeners(
                    [self._listener, progress], self.notices.telling(Trouble.PART, self._lines.note)
                ),
                say=request.say,
                repeat=repeat,
                focus_before=focus_before,
                orders=self._orders,
                notices=self.notices,
            )
            feed.with_run = True
            if self._nobody_told:
                self._nobody_told = False
                self._lines.note(
                    _(
                        "nobody in the picture gets guidance: there is no window, sound, "
                        "speech or second screen"
                    )
                )
            yield run


@contextlib.contextmanager
def opened(
    request: RunRequest,
    names: Sequence[str],
    *,
    keep: Path | None = None,
    real_time: bool | None = False,
    lines: UserLines | None = None,
) -> Iterator[OpenRun]:
    """Open the feeds of those names, the session in the folder `keep`, and what tells the person.

    real_time: whether files are played by the clock on the wall, None where they cannot be.
    lines: where lines for whoever starts the run go; nowhere if left out.

    All is closed at the end, and when something cannot be opened; then UserError is raised.
    """
    notices, how, lines = Notices(), request.how, lines or UserLines()
    with contextlib.ExitStack() as stack:
        opened_feeds = []
        for name in names:
            mirrored = FeedGeometry.of(request.set_up, request.known.feed).mirrored
            source = open_feed(
                name,
                how.rotated_deg,
                request.known.feed,
                request.set_up.feed.delay_s,
                mirrored=mirrored,
            )
            source = bars_told.watched(
                source, name, how.rotated_deg, request.set_up, request.known, lines.note
            )
            opened_feeds.append(OpenFeed(name, source))
            stack.callback(opened_feeds[-1].close)
        camera = any(feed.source.live for feed in opened_feeds)
        audible = request.audible.settled(camera=camera, real_time=real_time)
        session = None if keep is None else stack.enter_context(Session(keep, request.set_up))
        screens: list[Listener] = []
        orders: Callable[[], Sequence[Order]] = tuple
        if request.sharing is not None:
            screen = open_second_screen(
                request.sharing,
                request.set_up,
                request.say,
                audible.volume_percent,
                how.screen,
                notices.telling(Trouble.NO_SHARE, lines.note),
                lines.fact,
                draw_code=lines.draw_code,
                mark=request.set_up.together.people is None
                and (how.teach_mark or is_narrow(request.set_up.focus_zone)),
            )
            orders = screen.orders
            stack.callback(screen.close)
            screens.append(screen)
        if camera:
            by_ear = not how.window and not screens and (audible.sound or audible.speech)
            for line in hazards.cautions_at_start(
                request.set_up, request.say, forward_only=how.forward_only, by_ear=bool(by_ear)
            ):
                lines.fact(line)
        listener = stack.enter_context(
            open_listeners(
                audible,
                request.set_up.focus_zone,
                request.say,
                lines.note,
                screens,
                notices,
                hazards.aloud_at_start(request.say, forward_only=how.forward_only),
            )
        )
        told_by = (how.window, how.output, audible.sound, audible.speech, screens)
        yield OpenRun(
            request,
            opened_feeds,
            session,
            listener,
            notices,
            nobody_told=not any(told_by),
            lines=lines,
            orders=orders,
        )
