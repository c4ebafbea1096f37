"""The live run: feed in; screen, video, countdown, picture and record out."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from assist import cores
from assist.assistant import Assistant, Known, Moment
from assist.countdown import Countdown, CountdownState, TimerOptions
from assist.feed import Frame, Pace, Source
from assist.feed.reader import FeedReader
from assist.files import printable
from assist.gesture import Gesture, GestureWatch
from assist.listeners import Listener
from assist.overlay.screen import GuidanceScreen, Scene, ScreenOptions
from assist.phrases import Phrases
from assist.pose import PoseDetector
from assist.pose.reader import PoseReader
from assist.preview import PreviewWindow
from assist.repeat.guide import STRENGTH_STEP, RepeatGuide
from assist.session import Attempt, Session, now, plausible_m
from assist.set_up import SetUp
from assist.trigger import Fired, Trigger
from assist.trigger.background import BackgroundTrigger, Done
from assist.video_output import VideoOutput

_TICK_S = 0.1
STALE_AFTER_S = 0.5
"""A verdict older than this is withdrawn: an old "in focus" must not be left standing."""
TROUBLE_SHOWN_S = 6.0
"""How long a picture that was not taken is told of."""
_TRIGGER_GETS_S = 35.0
"""How long the end of a run waits for a picture that is still being taken."""


@dataclass
class LiveOptions:
    """How a run goes.

    full_screen, window_at_px: where the window opens; a place on a second display for example.
    timer: the self-timer, None for none.
    timer_at_once: whether it starts with the first picture rather than with a key or gesture.
    gestures: whether a hand held above the head starts and pauses the timer.
    forward_only: never send the person backwards.
    known: what calibrations taught, and whom to follow.
    """

    pace: Pace = "fast"
    window: bool = True
    full_screen: bool = False
    window_at_px: tuple[int, int] | None = None
    screen: ScreenOptions = field(default_factory=ScreenOptions)
    output: Path | None = None
    timer: TimerOptions | None = None
    timer_at_once: bool = True
    gestures: bool = True
    forward_only: bool = False
    known: Known = field(default_factory=Known)


@dataclass
class LiveOutcome:
    """What came of a run."""

    pictures: int = 0
    seconds: float = 0.0
    first_verdict_after_s: float | None = None
    attempts: list[Attempt] = field(default_factory=list)
    fired_at: list[Moment] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Ticket:
    """What a firing is recorded with: the state of things when it was ordered."""

    number: int
    taken_at: datetime
    moment: Moment


class LiveRun:
    """One run of the assistant over one feed.

    `on_moment` is called with each moment, for progress and for plots. `listener` tells the person
    by other ways than the screen; whoever opened it closes it.
    """

    def __init__(
        self,
        set_up: SetUp,
        source: Source,
        detector: PoseDetector,
        options: LiveOptions,
        session: Session | None = None,
        trigger: Trigger | None = None,
        on_moment: Callable[[Moment], None] | None = None,
        feed_name: str = "",
        listener: Listener | None = None,
        phrases: Phrases | None = None,
        repeat: RepeatGuide | None = None,
    ) -> None:
        self._repeat = repeat
        self._set_up = set_up
        self._source = source
        self._options = options
        self._session = session
        self._trigger: BackgroundTrigger[_Ticket] | None = (
            None if trigger is None else BackgroundTrigger(trigger)
        )
        self._next_attempt = session.next_attempt if session is not None else 1
        self._trouble: tuple[float, str] | None = None
        self._on_moment = on_moment
        self._feed_name = feed_name
        self._listener = listener
        say = phrases or Phrases.load()
        self._detector = detector
        self._assistant = Assistant(
            set_up, detector, say, forward_only=options.forward_only, known=options.known
        )
        self._countdown = Countdown(options.timer) if options.timer is not None else None
        self._gestures = GestureWatch() if options.gestures else None
        self._screen: GuidanceScreen | None = None
        if options.window or options.output is not None:
            self._screen = GuidanceScreen(
                set_up.depth_of_field,
                set_up.focus_lens_distance_m,
                set_up.sensor_offset_m,
                replace(options.screen, keys=say.text("screen.keys") if options.window else ""),
                say,
            )
        self.outcome = LiveOutcome()
        self._stop = False

    def stop(self) -> None:
        """End the run after the picture in hand."""
        self._stop = True

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
                stack.enter_context(cores.apart(getattr(self._detector, "threads", ())))
            prepare = None if self._screen is None else self._screen.prepare
            feed = stack.enter_context(FeedReader(self._source, self._options.pace, prepare))
            reader = stack.enter_context(PoseReader(feed, self._detector))
            window = video = None
            if self._options.window:
                window = PreviewWindow(self._options.screen.size_px, self._options.window_at_px)
                stack.callback(window.close)
                if self._options.full_screen:
                    window.toggle_full_screen()
            if self._options.output is not None:
                video = VideoOutput(
                    self._options.output, self._options.screen.size_px, self._source.rate_hz
                )
                stack.callback(video.abandon)
            # An interrupt is how a run without a window is ended.
            with contextlib.suppress(KeyboardInterrupt):
                self._loop(reader, window, video, began_s)
            if self._trigger is not None:
                for done in self._trigger.close(_TRIGGER_GETS_S):
                    self._keep(done)
            if video is not None:
                video.close()
        self.outcome.seconds = time.perf_counter() - began_s
        return self.outcome

    def _loop(
        self,
        reader: PoseReader,
        window: PreviewWindow | None,
        video: VideoOutput | None,
        began_s: float,
    ) -> None:
        moment: Moment | None = None
        while not self._stop:
            sighting = reader.read(_TICK_S)
            frame = None if sighting is None else sighting.frame
            if sighting is not None:
                moment = self._assistant.think(sighting.frame, sighting.poses)
                self._count(moment, began_s)
            elif reader.ended:
                break
            elif moment is not None and reader.now_s() - moment.frame.time_s > STALE_AFTER_S:
                moment = self._assistant.withdraw(moment, reader.now_s())
            elif window is None:
                continue
            if moment is not None:
                self._serve(moment, frame, reader.now_s(), window, video)
            elif window is not None and window.closed:
                break

    def _count(self, moment: Moment, began_s: float) -> None:
        self.outcome.pictures += 1
        if self.outcome.first_verdict_after_s is None:
            self.outcome.first_verdict_after_s = time.perf_counter() - began_s
            if self._countdown is not None and self._options.timer_at_once:
                self._countdown.start(moment.frame.time_s)

    def _serve(
        self,
        moment: Moment,
        frame: Frame | None,
        now_s: float,
        window: PreviewWindow | None,
        video: VideoOutput | None,
    ) -> None:
        """All that follows from a moment: orders, the picture, and telling the person.

        `frame` is None when the feed has brought nothing new; the timer runs on regardless.
        """
        time_s = now_s if frame is None else frame.time_s
        if self._gestures is not None and frame is not None:
            self._obey_gesture(self._gestures.update(time_s, moment.pose), time_s)
        if self._countdown is not None and self._countdown.update(time_s, moment.readiness):
            self._fire(moment, fresh=time_s - moment.frame.time_s <= STALE_AFTER_S)
        self._ask_trigger(time_s)
        state = None if self._countdown is None else self._countdown.at(time_s)
        if self._trouble is not None:
            if time_s > self._trouble[0]:
                self._trouble = None
            elif state is not None:
                state = replace(state, trouble=True)
                moment = replace(
                    moment, guidance=replace(moment.guidance, caution=self._trouble[1])
                )
        if self._repeat is not None and frame is not None:
            self._repeat.watch(frame.picture, moment.pose, time_s)
            words = self._repeat.words()
            if words:
                also = (*moment.guidance.also, words)
                moment = replace(moment, guidance=replace(moment.guidance, also=also))
        # The screen first: sound and a second screen have buffers on their way, it has none.
        self._show(moment, state, time_s, window, video)
        if self._listener is not None:
            self._listener.hear(moment, state)
        if self._on_moment is not None and frame is not None:
            self._on_moment(moment)

    def _show(
        self,
        moment: Moment,
        state: CountdownState | None,
        time_s: float,
        window: PreviewWindow | None,
        video: VideoOutput | None,
    ) -> None:
        if self._screen is None:
            return
        canvas = self._screen.draw(
            Scene(
                moment.frame.picture,
                moment.pose,
                moment.assessment,
                moment.guidance,
                moment.framing,
                state,
                0.0 if self._gestures is None else self._gestures.progress(time_s),
                None if self._repeat is None else self._repeat.ghost.over,
            )
        )
        if video is not None:
            video.write(canvas, time_s)
        if window is not None:
            if video is None:  # a video cannot change its size half-way
                self._screen.resize(window.size_px)
            self._obey_key(window.show(canvas), window, time_s)

    def _obey_gesture(self, gesture: Gesture | None, time_s: float) -> None:
        if gesture is Gesture.BOTH_HANDS_UP:
            self._stop = True
        elif gesture is Gesture.ONE_HAND_UP:
            self._start_or_pause(time_s)

    def _obey_key(self, key: str, window: PreviewWindow, time_s: float) -> None:
        if key in ("q", "escape") or window.closed:
            self._stop = True
        elif key == "m" and self._screen is not None:
            self._screen.mirrored = not self._screen.mirrored
        elif key == "f":
            window.toggle_full_screen()
        elif key in ("+", "=", "-") and self._repeat is not None:
            self._repeat.ghost.change(-STRENGTH_STEP if key == "-" else STRENGTH_STEP)
        elif key in ("t", " "):
            self._start_or_pause(time_s)

    def _start_or_pause(self, time_s: float) -> None:
        if self._countdown is None:
            return
        if self._countdown.running:
            self._countdown.pause()
        else:
            self._countdown.start(time_s)

    def _fire(self, moment: Moment, fresh: bool) -> None:
        number, self._next_attempt = self._next_attempt, self._next_attempt + 1
        ticket = _Ticket(number, now(), moment)
        if self._trigger is None:
            self._keep(Done(ticket, Fired("none")))
        elif fresh:
            self._trigger.fire(moment.frame.picture, number, ticket)
        else:
            self._keep(Done(ticket, Fired("frame", None, "no picture came from the feed")))

    def _ask_trigger(self, time_s: float) -> None:
        """Record what the trigger has finished; tell the person for a while if it failed."""
        if self._trigger is None:
            return
        # A file at full pace would be over before the picture is; there is no one to keep waiting.
        wait_s = 0.0 if self._source.live or self._options.pace == "real" else _TRIGGER_GETS_S
        for done in self._trigger.poll(wait_s):
            self._keep(done)
            if done.fired.problem:
                self._trouble = (time_s + TROUBLE_SHOWN_S, done.fired.problem)

    def _keep(self, done: Done[_Ticket]) -> None:
        attempt = self._attempt(done.ticket, done.fired)
        if self._session is not None:
            try:
                self._session.append(attempt)
            except OSError as error:
                problem = f"the record could not be written: {error.strerror}"
                attempt = attempt.model_copy(update={"problem": problem})
        self.outcome.attempts.append(attempt)
        self.outcome.fired_at.append(done.ticket.moment)

    def _attempt(self, ticket: _Ticket, fired: Fired) -> Attempt:
        moment = ticket.moment
        distance = moment.assessment.distance
        return Attempt(
            attempt=ticket.number,
            taken_at=ticket.taken_at,
            feed=printable(self._feed_name),
            feed_time_s=moment.frame.time_s,
            verdict=moment.assessment.verdict.value,
            distance_m=(
                None
                if distance is None
                else plausible_m(distance.eyes_m + self._set_up.sensor_offset_m)
            ),
            standard_deviation_m=None if distance is None else plausible_m(distance.sd_m),
            p_in_focus=moment.assessment.p_in_focus,
            to_mark_m=plausible_m(moment.guidance.to_mark_m),
            guidance=moment.guidance.sentence,
            framing=None if moment.framing is None else moment.framing.shows,
            cut=() if moment.framing is None else moment.framing.cut,
            trigger=fired.trigger,
            picture=None if fired.picture is None else fired.picture.name,
            problem=printable(fired.problem),
            exit_code=fired.exit_code,
            on_card=printable(fired.on_card),
            set_up=self._set_up.model_dump(mode="json", exclude_none=True),
        )
