"""What a person would see and hear of a run, kept with the time at which they would.

A run goes through phases: each lasts until what it waits for has been told, so that a busy machine
makes a test slower and not wrong. Times are measured against limits to which only that is added by
which the machine itself stood still.
"""

import threading
import time

from assist.guidance.guide import Action
from assist.guidance.verdict import Verdict
from assist.output.listeners import Listeners
from assist.output.speech.listener import Speech
from assist.run.live import LiveOptions, LiveRun
from tests.assist.footage import SET_UP, PlacedDetector

IN_FOCUS_HIPS_M = 4.1
LIMIT_S = 60.0


class Hiccups:
    """By how much the machine let a thread oversleep, at worst. A context manager."""

    def __enter__(self):
        self.worst_s, self._over = 0.0, threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        return self

    def _run(self):
        before_s = time.monotonic()
        while not self._over.wait(0.02):
            now_s = time.monotonic()
            self.worst_s = max(self.worst_s, now_s - before_s - 0.02)
            before_s = now_s

    def __exit__(self, *_):
        self._over.set()
        self._thread.join()


class Voice:
    """A speech engine that takes 0.3 s for a sentence."""

    def __init__(self):
        self.said = []

    def say(self, sentence):
        self.said.append((time.monotonic(), sentence))
        time.sleep(0.3)

    def stop(self):
        pass

    def close(self):
        pass


def claims_focus(message):
    """Whether anything in it says that the person is in focus, or about to be."""
    moment = message.moment
    return (
        moment.assessment.verdict is Verdict.IN_FOCUS
        or moment.guidance.action in (Action.HOLD, Action.STOP, Action.REFRAME)
        or moment.readiness.in_focus
    )


def shows(action):
    """A phase's end: when that word has been told in it."""
    return lambda watch: any(m.action is action for _, m, _ in watch.in_phase(-1))


def lasted(seconds, also=lambda _: True):
    """A phase's end: when it has lasted so long, and `also` holds."""
    return lambda watch: time.monotonic() - watch.began_s[-1] >= seconds and also(watch)


HOLD = shows(Action.HOLD)


class Watch:
    """A run with somebody in focus in front of the camera, going through phases.

    until: what ends each phase.   at: what happens as a phase begins, by the phase's number.
    """

    def __init__(self, *until, at=None):
        self.phase = 0
        self.told = []
        self.began_s = [time.monotonic()]
        self.live = None
        self._until, self._at = until, at or {}
        self._voice, self._hiccups = Voice(), Hiccups()

    def run(self, camera, detector=None, session=None, trigger=None, more=(), **options):
        """Run to the end of the last phase; the outcome."""
        notices = options.pop("notices", None)
        speech = Speech(lambda: self._voice, print)
        chosen = LiveOptions(**({"window": False} | options))
        with self._hiccups, Listeners([self, speech, *more]) as listeners:
            self.live = LiveRun(
                SET_UP, camera, detector or PlacedDetector(lambda _: IN_FOCUS_HIPS_M), chosen,
                session=session, trigger=trigger, listener=listeners, notices=notices,
            )  # fmt: skip
            self.began_s = [time.monotonic()]
            outcome = self.live.run()
        assert self.phase == len(self._until), f"phase {self.phase} did not end"
        return outcome

    def hear(self, message):
        now_s = time.monotonic()
        self.told.append((now_s, self.phase, message, message.countdown))
        if self.phase < len(self._until) and self._until[self.phase](self):
            self.phase += 1
            self.began_s.append(now_s)
            self._at.get(self.phase, lambda: None)()
        if self.phase == len(self._until) or now_s - self.began_s[0] > LIMIT_S:
            self.live.stop()

    def close(self):
        pass

    @property
    def slack_s(self):
        """What may come on top of a limit: a little work, and what the machine stood still."""
        return 0.12 + 2 * self._hiccups.worst_s

    def in_phase(self, phase):
        """(seconds since its beginning, message, countdown) of a phase; -1 for the one now."""
        phase = self.phase if phase < 0 else phase
        return [(t - self.began_s[phase], m, c) for t, p, m, c in self.told if p == phase]

    def actions(self, phase, from_s=0.0):
        return {m.action for t, m, _ in self.in_phase(phase) if t >= from_s}

    def said(self, sentence, phase):
        """How long after the beginning of a phase the sentence was said first; inf for never."""
        began_s = self.began_s[phase]
        times = [t - began_s for t, s in self._voice.said if sentence in s and t >= began_s]
        return min(times, default=float("inf"))
