"""The live run: feed in; guidance on screen, in sound and video, the countdown, and the orders."""

from __future__ import annotations

import contextlib
import math
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.signals import stopping
from assist.base.system import cores
from assist.base.trouble import Notices, Trouble
from assist.base.words import Words, _
from assist.camera.frame import NAME as FEED_TRIGGER
from assist.camera.trigger import Trigger
from assist.feed import Frame, Pace, Silence, Source
from assist.feed.reader import FeedReader
from assist.guidance.assistant import Assistant, Known, Moment
from assist.guidance.camera_hints import CameraHint
from assist.guidance.countdown import Countdown, CountdownState, TimerOptions
from assist.guidance.group_narrator import GroupNarrator
from assist.guidance.guide import Action
from assist.guidance.message import Message
from assist.guidance.narrator import Narrator, is_narrow
from assist.guidance.picture_news import PictureNews, TestPicture
from assist.guidance.teaching import Teaching
from assist.guidance.together import TogetherAssistant
from assist.guidance.troubles_shown import TroublesShown
from assist.output.display import Display
from assist.output.listeners import Listener, Order
from assist.output.screen.screen import GuidanceScreen, ScreenOptions
from assist.output.video import VideoOutput
from assist.output.window import PreviewWindow
from assist.pose import PoseDetector
from assist.pose.gesture import OrderBy
from assist.pose.reader import PoseReader
from assist.run.camera_watch import CameraWatch
from assist.run.checking import PictureChecks
from assist.run.orders import Orders, key_line
from assist.run.orders_together import OrdersTogether
from assist.run.repeat.camera_shift import CameraShift
from assist.run.repeat.guide import RepeatGuide
from assist.run.resting import Resting
from assist.run.taking import PictureTaking, Taken
from assist.run.three_pictures import ThreePictures
from assist.session import focus_learned
from assist.session.focus_learned import FocusLearned, lessons_of
from assist.session.folder import Attempt, Session
from assist.setup.set_up import SetUp

_TICK_S = 0.1
STALE_AFTER_S = 0.5
"""A verdict older than this is withdrawn: an old "in focus" must not be left standing."""
_MOST_BEHIND_S = 0.25
"""A picture that was older than this when it came is late by the feed's fault: the rest of the half
second is the pose network's."""
_UNSEEN_S = 0.05
"""What a link that brings old pictures delays the quickest of them by, at least."""
_WANTED_BEFORE_S = 2.0
"""How long before zero every picture is looked at, rest or not."""
_FIRST_PICTURE_S = 1.5
"""How long the first picture may take before the person is told: cameras take about a second to
start (common practice, no source)."""


@dataclass
class LiveOptions:
    """How a run goes.

    full_screen, window_at_px: where the window opens; a place on a second display for example.
    timer: the self-timer, None for none.
    timer_at_once: whether it starts with the first picture rather than with a key or gesture.
    orders_by: the gesture that starts and pauses the timer; None for none.
    forward_only: never send the person backwards.
    known: what calibrations taught, and whom to follow.
    rotated_deg: by how much the feed is turned, clockwise.
    teach_mark: whether the mark is to be taught before the timer may start.
    teach_after_s: when to take the person to stand on it, after the first picture; None: when they
        say so.
    three_pictures: whether to ask for test pictures that find the plane of focus, and then end.
    check_pictures: whether pictures are checked, and learned from, as soon as they are there.
    rest: of which feeds the pose network may leave pictures out while nothing happens.
    """

    pace: Pace = "fast"
    window: bool = True
    full_screen: bool = False
    window_at_px: tuple[int, int] | None = None
    screen: ScreenOptions = field(default_factory=ScreenOptions)
    output: Path | None = None
    timer: TimerOptions | None = None
    timer_at_once: bool = True
    orders_by: OrderBy | None = "hand"
    forward_only: bool = False
    known: Known = field(default_factory=Known)
    rotated_deg: int = 0
    teach_mark: bool = False
    teach_after_s: float | None = None
    check_pictures: bool = True
    three_pictures: bool = False
    rest: Literal["live", "every", "never"] = "live"


@dataclass
class LiveOutcome(Taken):
    """What came of a run.

    quit: whether somebody ended it, by key, gesture, the window's frame or an interrupt.
    """

    quit: bool = False
    pictures: int = 0
    seconds: float = 0.0
    first_verdict_after_s: float | None = None


class LiveRun:
    """One run of the assistant over one feed, which `run` closes.

    Every frame becomes a moment, every moment a message, and every message goes to the display
    first and then to the listener. `on_moment` is called with each moment of a picture, for
    progress and for plots. `listener` tells the person by other ways than the screen; whoever
    opened it closes it. `say`: in which language and units. `notices` is where others leave word
    of what fails; the run tells the person. focus_before: what the session that is repeated knew
    of the plane of focus; it holds once the camera is found to stand as it did. orders: what has
    been ordered on a second screen since it was last asked.

    A part that the run can do without - the screen, what guides to an earlier picture - is left out
    once it has failed, which the person is told, and the outcome's problems say.
    """

    def __init__(
        self,
        set_up: SetUp,
        source: Source,
        detector: PoseDetector,
        options: LiveOptions,
        *,
        session: Session | None = None,
        trigger: Trigger | None = None,
        on_moment: Callable[[Moment], None] | None = None,
        feed_name: str = "",
        listener: Listener | None = None,
        say: Words | None = None,
        repeat: RepeatGuide | None = None,
        focus_before: FocusLearned | None = None,
        orders: Callable[[], Sequence[Order]] = tuple,
        notices: Notices | None = None,
    ) -> None:
        self._source = source
        self._detector = detector
        self._options = options
        self._on_moment = on_moment
        self._listener = listener
        self._repeat = repeat
        self._focus_before = focus_before
        self._ordered_elsewhere = orders
        self._lessons_kept = 0
        self._watch: CameraWatch | None = None
        self._session = session
        self._say = say or Words()
        self._zone = set_up.focus_zone
        self._notices = notices or Notices()
        self.outcome = LiveOutcome()
        self._taking = PictureTaking(
            set_up,
            feed_name,
            session,
            trigger,
            self.outcome,
            self._notices,
            waits=not source.live and options.pace != "real",
            on_taken=self._taken_one,
        )
        self._troubles = TroublesShown()
        self._video_trouble_told = False
        several = set_up.together.people
        self._narrator = (Narrator if several is None else GroupNarrator)(
            self._zone, self._say, options.orders_by
        )
        self._assistant = (Assistant if several is None else TogetherAssistant)(
            set_up,
            detector,
            forward_only=options.forward_only,
            known=options.known,
            rotated_deg=options.rotated_deg,
            live=source.live,
        )
        self._countdown = Countdown(options.timer) if options.timer is not None else None
        # Who they are, and where the plane of focus lies, is learned of one person alone.
        self._one = self._assistant if isinstance(self._assistant, Assistant) else None
        ordered = (options.orders_by, self._countdown, self._quit, self._assistant)
        self._orders = (
            Orders(*ordered, self._on_mark, self._mark_to_be_taught)
            if several is None
            else OrdersTogether(*ordered)
        )
        self._checks: PictureChecks | None = None
        # A picture of the feed has too few pixels for it.
        cameras_own = trigger is not None and trigger.hears and trigger.name != FEED_TRIGGER
        if options.check_pictures and session is not None and cameras_own:
            self._checks = PictureChecks(set_up, session, self._one)
        self._three: ThreePictures | None = None
        if options.three_pictures and self._one is not None:
            self._three = ThreePictures(self._zone, self._one, self.start_timer, self.stop)
            self._one.test_picture = True
        self._first_s: float | None = None
        self._taught = False
        self._asked_at_set_time = options.teach_after_s is None
        self._reader: FeedReader | None = None
        self._resting: Resting | None = None
        self._display: Display | None = None
        self._stop = False
        self._served_s = -math.inf

    def stop(self) -> None:
        """End the run after the picture in hand."""
        self._stop = True

    def _quit(self) -> None:
        """End the run because somebody wants it."""
        self.outcome.quit = True
        self.stop()

    def _taken_one(self, attempt: Attempt) -> None:
        if self._checks is not None:
            self._checks.taken(attempt)

    def _on_mark(self, now_s: float) -> None:
        """Somebody says that the person stands on the mark."""
        if self._one is not None and self._one.plane.marks_teach:
            self._one.teach_mark(now_s)

    def _mark_to_be_taught(self) -> bool:
        """Whether the timer has to wait for the mark."""
        one = self._one
        return self._options.teach_mark and one is not None and not one.plane.learned

    def _teach_at_set_time(self, time_s: float) -> None:
        """Take the person to stand on the mark when that was set, and start the timer after it."""
        after_s = self._options.teach_after_s
        if self._first_s is None:
            self._first_s = time_s
        if (
            after_s is not None
            and not self._asked_at_set_time
            and time_s - self._first_s >= after_s
        ):
            self._asked_at_set_time = True
            self._on_mark(time_s)

    @property
    def timer_running(self) -> bool:
        """Whether a picture is still to come."""
        return self._countdown is not None and self._countdown.running

    @property
    def timer_started_s(self) -> float | None:
        """When the timer was last started, on the feed's clock."""
        return None if self._countdown is None else self._countdown.started_s

    def start_timer(self, time_s: float) -> None:
        """Start the timer, or start it again."""
        if self._countdown is not None:
            self._countdown.start(time_s)

    # -- from the beginning to the end --------------------------------------------------------

    def run(self) -> LiveOutcome:
        """Run until the feed ends, the window is closed, `stop` is called or an interrupt comes."""
        began_s, options = time.perf_counter(), self._options
        with contextlib.ExitStack() as stack:
            if not self._source.live and self._options.pace == "fast":
                # A camera leaves time between its pictures; then what is quickest to start wins.
                stack.enter_context(cores.apart(self._detector.threads))
            opening = stack.enter_context(contextlib.ExitStack())
            opening.callback(self._source.close)  # until there is a reader that does
            self._open_display(stack)
            prepare = None if self._display is None else self._prepare
            feed = stack.enter_context(FeedReader(self._source, self._options.pace, prepare))
            opening.pop_all()
            if options.rest == "every" or (options.rest == "live" and feed.live):
                self._resting = Resting()
            rest = None if self._resting is None else self._resting.rest
            reader = stack.enter_context(PoseReader(feed, self._detector, rest))
            self._reader = feed
            self._open_video(stack, hurried=feed.live)
            # An interrupt is how a run without a window is ended.
            stack.enter_context(stopping(self._quit, lambda: self._stop))
            try:
                with contextlib.suppress(KeyboardInterrupt):
                    self._loop(reader, began_s)
            finally:
                self._stop = True
                self._end()
        self.outcome.seconds = time.perf_counter() - began_s
        return self.outcome

    def _open_display(self, stack: contextlib.ExitStack) -> None:
        """Open the window before there is other work: see `PreviewWindow`."""
        options, window = self._options, None
        if not options.window and options.output is None:
            return
        keys = ""
        if options.window:
            keys = key_line(
                self._say,
                timer=self._countdown is not None,
                ghost=self._repeat is not None,
                mark=self._one is not None and (options.teach_mark or is_narrow(self._zone)),
            )
        screen = GuidanceScreen(self._zone, replace(options.screen, keys=keys), self._say)
        if options.window:
            window = PreviewWindow(options.screen.size_px, options.window_at_px)
            stack.callback(window.close)
        self._display = Display(screen, window, self._draw_ghost)
        if options.window and options.full_screen:
            with self._part(_("the screen"), self._leave_screen_out):
                self._display.toggle_full_screen()

    def _open_video(self, stack: contextlib.ExitStack, *, hurried: bool) -> None:
        if self._options.output is None or self._display is None:
            return
        video = self._display.video = VideoOutput(
            self._options.output,
            self._options.screen.size_px,
            self._source.rate_hz,
            hurried=hurried,
        )
        stack.callback(video.abandon)

    def _prepare(self, picture: ColourImage) -> None:
        """Make ahead, on the feed's thread, what the screen will need of a picture."""
        display = self._display
        if display is not None:
            with contextlib.suppress(Exception):  # drawing does it again, and tells
                display.prepare(picture)

    @contextlib.contextmanager
    def _part(self, name: str, leave_out: Callable[[], None]) -> Iterator[None]:
        """Leaves a part of the run out when it fails within the context, and tells of it."""
        try:
            yield
        except Exception as error:  # a bug in a part must not end the run
            line = _("{part} failed and is left out: {error}", part=name, error=error)
            self.outcome.problems.append(line)
            self._notices.tell(Trouble.PART, line)
            with contextlib.suppress(Exception):
                leave_out()

    def _leave_screen_out(self) -> None:
        """Without a screen no word may stand in a window or a video: it would get old."""
        display, self._display = self._display, None
        if display is not None:
            self._finish(display.close)

    def _leave_guide_out(self) -> None:
        guide, self._repeat = self._repeat, None
        if guide is not None:
            guide.close()

    def _end(self) -> None:
        """Finish what is under way, however the run ended; what cannot be is told, not raised."""
        self._taking.end()
        if self._checks is not None:
            self._checks.finish()
        self._keep_lessons()
        self._leave_watch_out()
        if self._display is not None:
            self._finish(self._display.end_video)

    def _finish(self, end: Callable[[], None]) -> None:
        try:
            end()
        except UserError as error:
            self.outcome.problems.append(str(error))

    # -- frame by frame -----------------------------------------------------------------------

    def _loop(self, reader: PoseReader, began_s: float) -> None:
        moment: Moment | None = None
        # The first picture gets longer; after that, what was seen is news for half a second.
        good_until_s = reader.now_s() + _FIRST_PICTURE_S
        while not self._stop:
            left_s = good_until_s - reader.now_s()
            sighting = reader.read(left_s if 0 < left_s < _TICK_S else _TICK_S)
            frame = None if sighting is None else sighting.frame
            if sighting is not None and not sighting.looked:
                # What was seen a moment ago still stands; the screen shows the new picture.
                moment = None if moment is None else replace(moment, frame=sighting.frame)
            elif sighting is not None:
                age_s = reader.now_s() - sighting.frame.time_s
                moment = self._assistant.think(
                    sighting.frame, sighting.poses, sighting.glance, age_s
                )
                self._watch_camera(moment)
                self._count(moment, began_s)
                good_until_s = _good_until_s(sighting.frame)
            elif reader.ended:
                break
            looked = sighting is not None and sighting.looked
            now_s = reader.now_s()
            if now_s >= good_until_s:
                moment = self._withdrawn(moment, frame, reader.silence, now_s)
            self._taking.look_after_session()
            self._keep_lessons()
            if moment is not None:
                self._serve(moment, frame, now_s, looked=looked)

    def _withdrawn(
        self, last: Moment | None, late: Frame | None, silence: Silence, now_s: float
    ) -> Moment:
        """The moment when there is no news. `late` is the picture that came too late to be any."""
        if last is None:
            return self._assistant.nothing_yet(now_s, silence)
        behind_s = _behind_s(last.frame)
        if behind_s > _MOST_BEHIND_S and now_s - last.frame.arrived_s < STALE_AFTER_S:
            # The track goes on by the times of the pictures: it will be wanted when they catch up.
            told_s = behind_s if math.isfinite(behind_s) else None
            return self._assistant.withdraw(last, last.frame.time_s, Silence.BEHIND, told_s)
        if late is not None:
            silence = Silence.LATE
        return self._assistant.withdraw(last, now_s, silence)

    def _count(self, moment: Moment, began_s: float) -> None:
        self.outcome.pictures += 1
        if self.outcome.first_verdict_after_s is None:
            self.outcome.first_verdict_after_s = time.perf_counter() - began_s
            if self._three is not None:
                self._three.begin(moment.frame.arrived_s)
            elif self._options.timer_at_once and not self._options.teach_mark:
                self.start_timer(moment.frame.arrived_s)
        elif moment.teaching is Teaching.TAUGHT and not self._taught:
            self._taught = True
            if self._options.teach_mark and self._options.timer_at_once:
                self.start_timer(moment.frame.arrived_s)
        self._teach_at_set_time(moment.frame.arrived_s)

    def _serve(
        self, moment: Moment, frame: Frame | None, now_s: float, *, looked: bool = True
    ) -> None:
        """All that follows from a moment: orders, the picture, and telling the person.

        `frame` is None when the feed has brought nothing new; the timer runs on regardless.
        looked: whether the pose network was asked for that picture.
        """
        looked = looked and frame is not None
        told_late = frame is None or moment.guidance.action is Action.NO_FEED
        at_s = now_s if told_late or frame is None else frame.arrived_s
        # A picture is older than the news without one just before it; no timer runs backwards.
        time_s = self._served_s = max(self._served_s, at_s)
        if looked:
            self._orders.watch(moment, at_s, time_s)
        for order in self._ordered_elsewhere():
            self._obey(order, time_s)
        self._taking.see(moment)
        self._take_if_due(moment, time_s, now_s)
        self._tell(self._message(moment, frame, time_s))
        if self._resting is not None and looked:
            self._resting.hear(moment, busy=self._busy(moment, time_s))
        if self._on_moment is not None and looked:
            self._on_moment(moment)
        if self._display is not None:
            with self._part(_("the screen"), self._leave_screen_out):
                self._display.look_ahead()

    def _busy(self, moment: Moment, time_s: float) -> bool:
        """Whether something is under way that wants every picture looked at."""
        timer = None if self._countdown is None else self._countdown.at(time_s)
        to_be_taken = timer is not None and (
            (timer.holding and moment.readiness.ready)
            or (timer.counting and timer.seconds_left < _WANTED_BEFORE_S)
        )
        return to_be_taken or self._three is not None or self._orders.progress(time_s) > 0

    def _obey(self, order: Order, time_s: float) -> None:
        """Do what was ordered on a second screen."""
        if order == "mark":
            self._on_mark(time_s)
        else:
            self._assistant.choose_next()

    def _take_if_due(self, moment: Moment, time_s: float, now_s: float) -> None:
        """Order the picture when the timer says so, and record what has become of orders."""
        if self._countdown is not None and self._countdown.update(time_s, moment.readiness):
            frame = self._frame_now(moment, time_s)
            sentence = self._narrator.sentence_of(moment)
            number = self._taking.fire(
                moment,
                sentence,
                frame,
                self.timer_started_s,
                now_s,
                more=self._countdown.more_soon,
            )
            if self._checks is not None:
                self._checks.fired(number, time_s)
        self._taking.ask(time_s)

    def _message(self, moment: Moment, frame: Frame | None, time_s: float) -> Message:
        """All that the person is told now."""
        self._notice_troubles(time_s)
        return self._narrator.tell(
            moment,
            self._timer_now(time_s),
            self._troubles.at(time_s),
            () if frame is None else self._camera_hints(frame, moment, time_s),
            time_s=time_s,
            gesture_progress=self._orders.progress(time_s),
            picture=self._picture_news(time_s),
        )

    def _picture_news(self, time_s: float) -> PictureNews | TestPicture | None:
        """What to tell of pictures: the last one checked, or the test picture that is asked for."""
        if self._checks is None:
            return None
        news = self._checks.update(time_s)
        if self._three is None:
            return news
        self._three.update(time_s, self._checks.answered)
        return self._three.asked

    def _timer_now(self, time_s: float) -> CountdownState | None:
        state = None if self._countdown is None else self._countdown.at(time_s)
        return None if state is None else self._taking.told(state, self.timer_started_s, time_s)

    def _tell(self, message: Message) -> None:
        """The screen first: sound and a second screen have buffers on their way, it has none."""
        if self._display is not None:
            ghost = None if self._repeat is None else self._repeat.ghost
            with self._part(_("the screen"), self._leave_screen_out):
                self._display.hear(message)
                self._orders.obey_key(self._display, ghost, message.time_s)
        if self._listener is not None:
            self._listener.hear(message)

    def _camera_hints(self, frame: Frame, moment: Moment, time_s: float) -> tuple[CameraHint, ...]:
        """What to do to the camera so that the picture becomes as the earlier one."""
        hints: tuple[CameraHint, ...] = ()
        if self._repeat is not None:
            with self._part(_("the guide to the earlier picture"), self._leave_guide_out):
                self._repeat.watch(frame.picture, moment.pose, time_s)
                hints = self._repeat.hints()
                self._assistant.focal_doubted = self._repeat.zoomed
                self._take_up_focus(self._repeat)
        return hints

    def _take_up_focus(self, repeat: RepeatGuide) -> None:
        """Go by what was learned then, once the camera is seen to stand as it did."""
        kept, found = self._focus_before, repeat.found
        if kept is None or not isinstance(found, CameraShift) or found.moved or repeat.zoomed:
            return
        self._focus_before = None
        if self._one is not None and not self._one.plane.learned:
            self._one.learned_before(*lessons_of(kept))
            self._lessons_kept = len(self._one.plane.lessons)

    def _watch_camera(self, moment: Moment) -> None:
        """See that the camera stays as it was when the plane of focus was first learned."""
        one, frame = self._one, moment.frame
        if one is None or not one.plane.learned or moment.body is None:
            return
        with self._part(_("the watch over the camera"), self._leave_watch_out):
            if self._watch is None:
                focal_px = one.camera.fx_px
                self._watch = CameraWatch(frame.picture, moment.pose, focal_px)
            elif self._watch.changed(frame.picture, moment.pose, frame.arrived_s):
                one.void_mark(frame.time_s)
                self._leave_watch_out()

    def _leave_watch_out(self) -> None:
        watch, self._watch = self._watch, None
        if watch is not None:
            watch.close()

    def _keep_lessons(self) -> None:
        """Keep in the session what the run has learned of the plane of focus."""
        if self._session is None or self._one is None:
            return
        lessons = len(self._one.plane.lessons)
        if lessons == self._lessons_kept:
            return
        self._lessons_kept = lessons
        try:
            focus_learned.save(self._one.plane, self._session.folder)
        except (UserError, OSError) as error:
            self._notices.tell(Trouble.NOT_WRITTEN, str(error))

    def _notice_troubles(self, time_s: float) -> None:
        """Take in what has failed since the last message."""
        why = "" if self._display is None else self._display.trouble
        if why and not self._video_trouble_told:
            self._video_trouble_told = True
            self._notices.tell(Trouble.VIDEO, why)
            self.outcome.problems.append(_("the video ended before the run: {why}", why=why))
        for notice in self._notices.take():
            self._troubles.add(notice.trouble, time_s)

    def _draw_ghost(self, picture: ColourImage) -> None:
        if self._repeat is not None:
            with self._part(_("the guide to the earlier picture"), self._leave_guide_out):
                self._repeat.ghost.over(picture)

    def _frame_now(self, moment: Moment, now_s: float) -> Frame | None:
        """The feed's picture of this moment: the one judged, or a newer one that is not yet."""
        if now_s - moment.frame.arrived_s <= STALE_AFTER_S:
            return moment.frame
        newest = None if self._reader is None else self._reader.newest
        if newest is None or now_s - newest.arrived_s > STALE_AFTER_S:
            return None
        return newest


def _good_until_s(frame: Frame) -> float:
    """Until when what was seen in a picture may stand."""
    unseen_s = _UNSEEN_S if _behind_s(frame) > _MOST_BEHIND_S else 0.0
    return frame.at_worst_s + STALE_AFTER_S - unseen_s


def _behind_s(frame: Frame) -> float:
    """How old the picture may have been when it came."""
    return frame.age_s + frame.doubt_s
