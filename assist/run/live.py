"""The live run: feed in; guidance on screen, in sound and video, the countdown, and the orders."""

from __future__ import annotations

import contextlib
import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.phrases import Phrases
from assist.base.signals import stopping
from assist.base.system import cores
from assist.base.trouble import Notices, Trouble
from assist.camera.trigger import Trigger
from assist.feed import Frame, Pace, Silence, Source
from assist.feed.reader import FeedReader
from assist.guidance.assistant import Assistant, Known, Moment
from assist.guidance.countdown import Countdown, CountdownState, TimerOptions
from assist.guidance.guide import Action
from assist.guidance.troubles_shown import TroublesShown
from assist.output.listeners import Listener
from assist.output.screen.screen import GuidanceScreen, Scene, ScreenOptions
from assist.output.video import VideoOutput
from assist.output.window import PreviewWindow
from assist.pose import PoseDetector
from assist.pose.gesture import Gesture, GestureWatch, OrderBy
from assist.pose.reader import PoseReader
from assist.run.repeat.guide import STRENGTH_STEP, RepeatGuide
from assist.run.taking import PictureTaking, Taken
from assist.session.folder import Session
from assist.setup.set_up import SetUp

_TICK_S = 0.1
STALE_AFTER_S = 0.5
"""A verdict older than this is withdrawn: an old "in focus" must not be left standing."""
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

    `on_moment` is called with each moment, for progress and for plots. `listener` tells the person
    by other ways than the screen; whoever opened it closes it. `notices` is where others leave
    word of what fails; the run tells the person.

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
        phrases: Phrases | None = None,
        repeat: RepeatGuide | None = None,
        notices: Notices | None = None,
    ) -> None:
        self._repeat = repeat
        self._source = source
        self._options = options
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
        )
        self._on_moment = on_moment
        self._listener = listener
        say = phrases or Phrases.load()
        self._detector = detector
        self._troubles = TroublesShown(say)
        self._assistant = Assistant(
            set_up,
            detector,
            say,
            forward_only=options.forward_only,
            known=options.known,
            rotated_deg=options.rotated_deg,
        )
        self._countdown = Countdown(options.timer) if options.timer is not None else None
        self._gestures = None if options.orders_by is None else GestureWatch(options.orders_by)
        self._reader: FeedReader | None = None
        self._screen: GuidanceScreen | None = None
        if options.window or options.output is not None:
            self._screen = GuidanceScreen(
                set_up.focus_zone,
                replace(options.screen, keys=self._keys(say)),
                say,
            )
        self._window: PreviewWindow | None = None
        self._video: VideoOutput | None = None
        self._video_trouble_told = False
        self._stop = False
        self._served_s = -math.inf

    def _keys(self, say: Phrases) -> str:
        """The line on the screen about the keys that do something in this run."""
        if not self._options.window:
            return ""
        useful = {
            "timer": self._countdown is not None,
            "ghost": self._repeat is not None,
            "mirror": True,
            "full_screen": True,
            "quit": True,
        }
        return "    ".join(say.text(f"screen.key.{key}") for key, is_so in useful.items() if is_so)

    def stop(self) -> None:
        """End the run after the picture in hand."""
        self._stop = True

    def _quit(self) -> None:
        """End the run because somebody wants it."""
        self.outcome.quit = True
        self.stop()

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

    def run(self) -> LiveOutcome:
        """Run until the feed ends, the window is closed, `stop` is called or an interrupt comes."""
        began_s = time.perf_counter()
        with contextlib.ExitStack() as stack:
            if not self._source.live and self._options.pace == "fast":
                # A camera leaves time between its pictures; then what is quickest to start wins.
                stack.enter_context(cores.apart(self._detector.threads))
            prepare = None if self._screen is None else self._prepare
            feed = FeedReader(self._source, self._options.pace, prepare)
            opening = stack.enter_context(contextlib.ExitStack())
            opening.callback(self._source.close)  # until there is a reader that does
            if self._options.window:
                # Before there is other work: see `PreviewWindow`.
                self._window = PreviewWindow(
                    self._options.screen.size_px, self._options.window_at_px
                )
                stack.callback(self._window.close)
                if self._options.full_screen:
                    self._toggle_full_screen()
            stack.enter_context(feed)
            opening.pop_all()
            reader = stack.enter_context(PoseReader(feed, self._detector))
            self._reader = feed
            if self._options.output is not None:
                self._video = VideoOutput(
                    self._options.output,
                    self._options.screen.size_px,
                    self._source.rate_hz,
                    hurried=feed.live,
                )
                stack.callback(self._video.abandon)
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

    def _prepare(self, picture: ColourImage) -> None:
        """Make ahead, on the feed's thread, what the screen will need of a picture."""
        screen = self._screen
        if screen is not None:
            with contextlib.suppress(Exception):  # drawing does it again, and tells
                screen.prepare(picture)

    @contextlib.contextmanager
    def _part(self, name: str, leave_out: Callable[[], None]) -> Iterator[None]:
        """Leaves a part of the run out when it fails within the context, and tells of it."""
        try:
            yield
        except Exception as error:  # a bug in a part must not end the run
            line = f"{name} failed and is left out: {error}"
            self.outcome.problems.append(line)
            self._notices.tell(Trouble.PART, line)
            with contextlib.suppress(Exception):
                leave_out()

    def _leave_screen_out(self) -> None:
        """Without a screen no word may stand in a window or a video: it would get old."""
        self._screen = None
        window, self._window = self._window, None
        if window is not None:
            window.close()
        self._end_video()

    def _leave_guide_out(self) -> None:
        guide, self._repeat = self._repeat, None
        if guide is not None:
            guide.close()

    def _end(self) -> None:
        """Finish what is under way, however the run ended; what cannot be is told, not raised."""
        self._taking.end()
        self._end_video()

    def _end_video(self) -> None:
        video, self._video = self._video, None
        try:
            if video is not None:
                video.close()
        except UserError as error:
            self.outcome.problems.append(str(error))

    def _loop(self, reader: PoseReader, began_s: float) -> None:
        moment: Moment | None = None
        # The first picture gets longer; after that, what was seen is news for half a second.
        good_until_s = reader.now_s() + _FIRST_PICTURE_S
        while not self._stop:
            left_s = good_until_s - reader.now_s()
            sighting = reader.read(left_s if 0 < left_s < _TICK_S else _TICK_S)
            frame = None if sighting is None else sighting.frame
            if sighting is not None:
                moment = self._assistant.think(sighting.frame, sighting.poses)
                self._count(moment, began_s)
                good_until_s = sighting.frame.time_s + STALE_AFTER_S
            elif reader.ended:
                break
            now_s = reader.now_s()
            if now_s >= good_until_s:
                moment = self._withdrawn(moment, frame, reader.silence, now_s)
            self._taking.look_after_session()
            if moment is not None:
                self._serve(moment, frame, now_s)

    def _withdrawn(
        self, last: Moment | None, late: Frame | None, silence: Silence, now_s: float
    ) -> Moment:
        """The moment when there is no news. `late` is the picture that came too late to be any."""
        if last is None:
            return self._assistant.nothing_yet(now_s, silence)
        if late is not None:
            silence = Silence.LATE
        return self._assistant.withdraw(last, now_s, silence)

    def _count(self, moment: Moment, began_s: float) -> None:
        self.outcome.pictures += 1
        if self.outcome.first_verdict_after_s is None:
            self.outcome.first_verdict_after_s = time.perf_counter() - began_s
            if self._countdown is not None and self._options.timer_at_once:
                self._countdown.start(moment.frame.time_s)

    def _serve(self, moment: Moment, frame: Frame | None, now_s: float) -> None:
        """All that follows from a moment: orders, the picture, and telling the person.

        `frame` is None when the feed has brought nothing new; the timer runs on regardless.
        """
        told_late = frame is None or moment.guidance.action is Action.NO_FEED
        at_s = now_s if told_late or frame is None else frame.time_s
        # A picture is older than the news without one just before it; no timer runs backwards.
        time_s = self._served_s = max(self._served_s, at_s)
        if self._gestures is not None and frame is not None:
            self._obey_gesture(self._gestures.update(at_s, moment.pose), time_s)
        if self._countdown is not None and self._countdown.update(time_s, moment.readiness):
            picture = self._picture_now(moment, time_s)
            self._taking.fire(moment, picture, self.timer_started_s, time_s)
        self._taking.ask(time_s)
        state = None if self._countdown is None else self._countdown.at(time_s)
        if state is not None:
            state = self._taking.told(state, self.timer_started_s, time_s)
        moment = self._with_troubles(moment, time_s)
        if frame is not None:
            moment = self._with_camera_words(moment, frame, time_s)
        # The screen first: sound and a second screen have buffers on their way, it has none.
        self._obey_key(self._show(moment, state, time_s), time_s)
        if self._listener is not None:
            self._listener.hear(moment, state)
        if self._on_moment is not None and frame is not None:
            self._on_moment(moment)
        if self._window is not None and self._screen is not None:
            with self._part("the screen", self._leave_screen_out):
                self._window.look()
                self._screen.look_ahead()

    def _with_camera_words(self, moment: Moment, frame: Frame, time_s: float) -> Moment:
        """With what to do to the camera so that the picture becomes as the earlier one."""
        words: tuple[str, ...] = ()
        if self._repeat is not None:
            with self._part("the guide to the earlier picture", self._leave_guide_out):
                self._repeat.watch(frame.picture, moment.pose, time_s)
                words = self._repeat.words()
                self._assistant.focal_doubted = self._repeat.zoomed
        if not words:
            return moment
        told = moment.guidance
        guidance = replace(
            told, also=(*told.also, *words), also_spoken=told.also_spoken or f"{words[0]}."
        )
        return replace(moment, guidance=guidance)

    def _with_troubles(self, moment: Moment, time_s: float) -> Moment:
        video = self._video
        if video is not None and video.trouble and not self._video_trouble_told:
            self._video_trouble_told = True
            self._notices.tell(Trouble.VIDEO, video.trouble)
            self.outcome.problems.append(f"the video ended before the run: {video.trouble}")
        for notice in self._notices.take():
            self._troubles.add(notice.trouble, time_s)
        guidance = self._troubles.over(moment.guidance, time_s)
        return moment if guidance is moment.guidance else replace(moment, guidance=guidance)

    def _show(self, moment: Moment, state: CountdownState | None, time_s: float) -> str:
        """Draw the screen and show it; the key pressed meanwhile, "" for none."""
        screen, key = self._screen, ""
        if screen is None:
            return key
        progress = 0.0 if self._gestures is None else self._gestures.progress(time_s)
        with self._part("the screen", self._leave_screen_out):
            canvas = screen.draw(
                Scene(
                    moment.frame.picture,
                    moment.pose,
                    moment.assessment,
                    moment.guidance,
                    moment.framing,
                    state,
                    progress,
                    None if self._repeat is None else self._draw_ghost,
                )
            )
            if self._video is not None:
                self._video.write(canvas, time_s)
            if self._window is not None:
                if self._video is None:  # a video cannot change its size half-way
                    screen.resize(self._window.size_px)
                key = self._window.show(canvas)
        return key

    def _draw_ghost(self, picture: ColourImage) -> None:
        if self._repeat is not None:
            with self._part("the guide to the earlier picture", self._leave_guide_out):
                self._repeat.ghost.over(picture)

    def _obey_gesture(self, gesture: Gesture | None, time_s: float) -> None:
        if gesture is Gesture.END:
            self._quit()
        elif gesture is Gesture.START_OR_PAUSE:
            self._start_or_pause(time_s)

    def _obey_key(self, key: str, time_s: float) -> None:
        if key in ("q", "escape") or (self._window is not None and self._window.closed):
            self._quit()
        elif key == "m" and self._screen is not None:
            self._screen.mirrored = not self._screen.mirrored
        elif key == "f":
            self._toggle_full_screen()
        elif key in ("+", "=", "-") and self._repeat is not None:
            self._repeat.ghost.change(-STRENGTH_STEP if key == "-" else STRENGTH_STEP)
        elif key in ("t", " "):
            self._start_or_pause(time_s)

    def _toggle_full_screen(self) -> None:
        if self._window is not None:
            with self._part("the screen", self._leave_screen_out):
                self._window.toggle_full_screen()

    def _start_or_pause(self, time_s: float) -> None:
        if self._countdown is None:
            return
        if self._countdown.running:
            self._countdown.pause()
        else:
            self._countdown.start(time_s)

    def _picture_now(self, moment: Moment, now_s: float) -> ColourImage | None:
        """The feed's picture of this moment: the one judged, or a newer one that is not yet."""
        if now_s - moment.frame.time_s <= STALE_AFTER_S:
            return moment.frame.picture
        newest = None if self._reader is None else self._reader.newest
        if newest is None or now_s - newest.time_s > STALE_AFTER_S:
            return None
        return newest.picture
