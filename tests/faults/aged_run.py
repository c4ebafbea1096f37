"""A run over a feed whose pictures tell their true age: what was claimed of pictures how old."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field

from assist.feed.opening import open_feed
from assist.guidance.guide import Action
from assist.run.live import LiveOptions, LiveRun
from tests.assist.footage import SET_UP, PlacedDetector
from tests.faults.age_servers import true_age_s
from tests.faults.watching import IN_FOCUS_HIPS_M, claims_focus


@dataclass
class Told:
    """What a run told, message by message: (time, true age of its picture, message)."""

    messages: list = field(default_factory=list)

    @property
    def claims_s(self):
        """The true age of the picture behind each message that says "in focus", when it is told."""
        return [age_s for _, age_s, message in self.messages if claims_focus(message)]

    @property
    def old_s(self):
        """When a picture older than half a second came first; None for never."""
        return next((t for t, age_s, _ in self.messages if age_s > 0.5), None)

    def silent_s(self, since_s=0.0):
        """When, from then on, it was first told that the feed brings no news, or old ones."""
        silent = (t for t, _, m in self.messages if m.action is Action.NO_FEED and t >= since_s)
        return next(silent, None)

    @property
    def silences(self):
        """Why."""
        return {m.moment.guidance.silence for *_, m in self.messages} - {None}

    def share_held(self, from_s, to_s=float("inf")):
        """The share of messages in a time that say "hold"."""
        asked = [m for t, _, m in self.messages if from_s <= t <= to_s]
        return sum(m.action is Action.HOLD for m in asked) / max(1, len(asked))


def watch(address, seconds, delay_s=None, at=(), trigger=None, **options):
    """Watch the feed for so long with somebody in focus before it; what was told.

    at: pairs of a time and what to do then.
    """
    told, began_s = Told(), time.monotonic()

    class Listener:
        def hear(self, message):
            now_s = time.monotonic()
            picture = message.moment.frame.picture
            age_s = true_age_s(picture, now_s) if picture.any() else 0.0
            told.messages.append((now_s - began_s, age_s, message))

        def close(self):
            pass

    source = open_feed(address, delay_s=delay_s)
    began_s = time.monotonic()
    live = LiveRun(
        SET_UP, source, PlacedDetector(lambda _: IN_FOCUS_HIPS_M),
        LiveOptions(window=False, **options), listener=Listener(), trigger=trigger,
    )  # fmt: skip
    timers = [threading.Timer(when_s, what) for when_s, what in (*at, (seconds, live.stop))]
    for timer in timers:
        timer.start()
    try:
        live.run()
    finally:
        for timer in timers:
            timer.cancel()
    return told
