"""What `assist live` and `assist rehearse` have in common: what a run needs, opened and closed."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import typer

from assist.base.trouble import Notices, Trouble
from assist.base.words import Words
from assist.camera.trigger import Trigger
from assist.cli import assumed, bars
from assist.cli.options import screen as sc
from assist.cli.options import set_up as so
from assist.cli.options import share as sharing
from assist.cli.options import telling
from assist.cli.remarks import Remarks
from assist.feed import Source
from assist.guidance.assistant import Known, Moment
from assist.output.listeners import Listener, Listeners
from assist.output.terminal import Progress
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run.live import LiveOptions, LiveRun
from assist.run.repeat.guide import RepeatGuide
from assist.session.folder import Session
from assist.setup.set_up import SetUp

_NOBODY_TOLD = (
    "whoever is in the picture is told nothing: there is no window, sound, speech or second screen"
)


@dataclass(frozen=True)
class Asked:
    """What the options in common ask for, checked; nothing is open yet.

    how: the run, as far as these options say.
    """

    chosen: SetUp
    known: Known
    say: Words
    watch: so.WatchOptions
    people: int
    tell: telling.TellingOptions
    share: sharing.Sharing | None
    how: LiveOptions


def read(
    chosen: SetUp,
    given: so.SetUpOptions,
    tell: telling.TellingOptions,
    share: sharing.ShareOptions,
    screen: sc.WindowOptions,
    watch: so.WatchOptions,
) -> Asked:
    """The options in common. Raises UserError naming the one that is wrong.

    `chosen` is the set-up that `given` makes.
    """
    show = so.window_wanted(screen.window)
    say, people = watch.words(), so.people_count(watch.people)
    known = so.known(chosen, given, watch.follow)
    shared, place_px = sharing.gather(share), sc.place(screen)
    how = LiveOptions(
        window=show,
        full_screen=screen.full_screen,
        window_at_px=place_px,
        screen=sc.gather(screen, shown=show),  # the last: it may ask a question
        orders_by=so.orders_by(chosen),
        forward_only=watch.forward_only,
        known=known,
        rotated_deg=watch.rotate,
    )
    return Asked(chosen, known, say, watch, people, tell, shared, how)


@dataclass
class Feed:
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


class Running:
    """Feeds, session and listeners, open; `opened` closes them."""

    def __init__(
        self,
        asked: Asked,
        feeds: Sequence[Feed],
        session: Session | None,
        listener: Listener,
        notices: Notices,
        *,
        nobody_told: bool,
    ) -> None:
        self._asked = asked
        self._listener = listener
        self._nobody_told = nobody_told
        self._begun = False
        self._remarks = Remarks(asked.chosen, telling.note)
        self.feeds = feeds
        self.session = session
        self.notices = notices

    @contextlib.contextmanager
    def run(
        self,
        feed: Feed,
        how: LiveOptions,
        *,
        session: Session | None = None,
        trigger: Trigger | None = None,
        repeat: RepeatGuide | None = None,
        on_moment: Callable[[Moment], None] = lambda _: None,
    ) -> Iterator[LiveRun]:
        """A run over one of the feeds, not begun yet, with a pose network and a line of progress.

        `session` and `trigger` are for a run that takes pictures.
        """
        asked = self._asked
        with (
            MediaPipePoseDetector(asked.watch.pose_model, people=asked.people) as detector,
            Progress(feed.source) as progress,
        ):

            def seen(moment: Moment) -> None:
                if not self._begun:
                    self._begun = True
                    typer.echo(assumed.line(asked.chosen, asked.known))
                self._remarks.see(moment)
                progress.show(moment)
                on_moment(moment)

            run = LiveRun(
                asked.chosen,
                feed.source,
                detector,
                how,
                session=session,
                trigger=trigger,
                on_moment=seen,
                feed_name=feed.name,
                listener=Listeners(
                    [self._listener, progress], self.notices.telling(Trouble.PART, telling.note)
                ),
                say=asked.say,
                repeat=repeat,
                notices=self.notices,
            )
            feed.with_run = True
            if self._nobody_told:
                self._nobody_told = False
                telling.note(_NOBODY_TOLD)
            yield run


@contextlib.contextmanager
def opened(
    asked: Asked, names: Sequence[str], *, keep: Path | None, real_time: bool | None
) -> Iterator[Running]:
    """Open the feeds, the session in the folder `keep`, and whatever tells the person.

    real_time: whether files are played by the clock on the wall, None where they cannot be. All is
    closed at the end, and when something cannot be opened; then UserError is raised.
    """
    notices, how = Notices(), asked.how
    with contextlib.ExitStack() as stack:
        feeds = []
        for name in names:
            source = so.open_feed(name, asked.watch.rotate, asked.known.feed)
            source = bars.watched(
                source, name, asked.watch.rotate, asked.chosen, asked.known, telling.note
            )
            feeds.append(Feed(name, source))
            stack.callback(feeds[-1].close)
        camera = any(feed.source.live for feed in feeds)
        told = telling.gather(asked.tell, camera=camera, real_time=real_time)
        session = None if keep is None else stack.enter_context(Session(keep, asked.chosen))
        screens: list[Listener] = []
        if asked.share is not None:
            ended = notices.telling(Trouble.NO_SHARE, telling.note)
            screen = sharing.open_second_screen(
                asked.share, asked.chosen, asked.say, asked.tell.volume, asked.how.screen, ended
            )
            stack.callback(screen.close)
            screens.append(screen)
        listener = stack.enter_context(
            telling.open_listeners(told, asked.chosen.focus_zone, asked.say, screens, notices)
        )
        told_by = (how.window, how.output, told.sound, told.speech, screens)
        yield Running(asked, feeds, session, listener, notices, nobody_told=not any(told_by))
