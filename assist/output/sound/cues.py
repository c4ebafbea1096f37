"""What guidance sounds like, as numbers: kind of sound, pitch and tempo.

The mark has a pitch of its own, REFERENCE_HZ, held steadily while the person is in focus. Someone
too far away hears single pulses above it, someone too near hears falling pairs below it. The nearer
the zone, the closer the pitch comes to that of the mark, though never so close as to be taken for
it, and the quicker the pulses. So direction is told twice (above or below, single or in pairs), and
so is closeness (interval and tempo); neither needs an ear for absolute pitch. Pairs never come so
quick that they run together. "Stop" is a figure of its own at the mark's pitch, and ends in the
steady tone once the person is in focus. Left and right are told as on a keyboard: up is right.

All pitches lie from 300 to 1200 Hz: above what a telephone's loudspeaker cannot give, and below
where hearing fades first with age. The choice is ours; common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from assist.guidance.guide import Action, Guidance
from optics.focus_zone import FocusZone

REFERENCE_HZ = 600.0
LEAST_SEMITONES, MOST_SEMITONES = 4.0, 12.0
SLOWEST_HZ, QUICKEST_HZ = 1.0, 5.0
SLOWEST_PAIR_HZ, QUICKEST_PAIR_HZ = 0.8, 2.5
"""At more than 2.5 pairs a second the gap between two pairs is no longer than that within one."""
FAR_OFF_M = 3.0
"""From this far outside the zone on, pitch and tempo change no more."""
STOP_HZ = 2.0
DOUBT_HZ = 1.25
FRAME_HZ = 1.0
SIDE_HZ = 1.0
ROUND_HZ = 0.8
ALONE_HZ = 1 / 3
ALONE_PITCH_HZ = 400.0


class Kind(Enum):
    """The kinds of sound. `value` goes to the second screen too."""

    SINGLE = "single"
    """Single pulses: too far away, come forward."""
    DOUBLE = "double"
    """Falling pairs of pulses: too near, go back."""
    STOP = "stop"
    """Three quick notes at the mark's pitch: stop walking, the zone is about to be reached."""
    STEADY = "steady"
    """The mark's pitch without end: in focus, hold."""
    DOUBT = "doubt"
    """Notes that waver about the pitch of the likelier side: not sure."""
    FRAME = "frame"
    """Quick notes high and low in turn: in focus, but cut off by the picture's edge."""
    LEFT = "left"
    """A long high note and a short low one: in focus, go to your left."""
    RIGHT = "right"
    """A long low note and a short high one: in focus, go to your right."""
    ROUND = "round"
    """Two low notes and a high one: too near, go round behind the mark."""
    ALONE = "alone"
    """A low note now and then: no one is seen, and the assistant is still looking."""


@dataclass(frozen=True, slots=True)
class SoundCue:
    """What to sound from now on.

    pitch_hz: frequency of the fundamental.   tempo_hz: figures a second; 0 for a steady tone.
    """

    kind: Kind
    pitch_hz: float
    tempo_hz: float


KINDS: dict[Action, Kind | None] = {
    Action.FORWARD: Kind.SINGLE,
    Action.BACK: Kind.DOUBLE,
    Action.AGAIN: Kind.ROUND,
    Action.STOP: Kind.STOP,
    Action.HOLD: Kind.STEADY,
    Action.REFRAME: Kind.FRAME,
    Action.NOT_SURE: Kind.DOUBT,
    Action.NO_ONE: Kind.ALONE,
    Action.NO_FEED: None,
}
"""Nothing at all without a feed: silence says that nothing is known."""

_ALWAYS = {
    Kind.STOP: SoundCue(Kind.STOP, REFERENCE_HZ, STOP_HZ),
    Kind.STEADY: SoundCue(Kind.STEADY, REFERENCE_HZ, 0.0),
    Kind.ALONE: SoundCue(Kind.ALONE, ALONE_PITCH_HZ, ALONE_HZ),
    Kind.FRAME: SoundCue(Kind.FRAME, REFERENCE_HZ, FRAME_HZ),
    Kind.LEFT: SoundCue(Kind.LEFT, REFERENCE_HZ, SIDE_HZ),
    Kind.RIGHT: SoundCue(Kind.RIGHT, REFERENCE_HZ, SIDE_HZ),
    Kind.ROUND: SoundCue(Kind.ROUND, REFERENCE_HZ, ROUND_HZ),
}
"""What sounds the same wherever the person is."""


class CueMaker:
    """Makes cues out of guidance, for one zone."""

    def __init__(self, zone: FocusZone) -> None:
        self._in_front_m = zone.in_front_m
        self._behind_m = zone.behind_m

    def outside_m(self, to_mark_m: float) -> float:
        """How far outside the zone someone is who is that far behind (+) the sharpest place."""
        room_m = self._behind_m if to_mark_m > 0 else self._in_front_m
        return max(0.0, abs(to_mark_m) - room_m)

    def cue(self, guidance: Guidance) -> SoundCue | None:
        """The sound of that guidance; None for silence."""
        kind = KINDS[guidance.action]
        to_mark_m = guidance.to_mark_m
        if kind is None:
            return None
        if kind is Kind.FRAME and guidance.lean:
            kind = Kind.LEFT if guidance.lean < 0 else Kind.RIGHT
        if kind in _ALWAYS:
            return _ALWAYS[kind]
        if to_mark_m is None:  # somebody is there, but cannot be measured
            return SoundCue(Kind.DOUBT, REFERENCE_HZ, DOUBT_HZ)
        part = min(self.outside_m(to_mark_m) / FAR_OFF_M, 1.0)
        semitones = LEAST_SEMITONES + part * (MOST_SEMITONES - LEAST_SEMITONES)
        above = to_mark_m > 0 if kind is Kind.DOUBT else kind is Kind.SINGLE
        pitch_hz = REFERENCE_HZ * 2 ** ((semitones if above else -semitones) / 12)
        if kind is Kind.DOUBT:
            return SoundCue(kind, pitch_hz, DOUBT_HZ)
        # Equal steps in distance are equal ratios in tempo, as the ear counts them.
        slowest_hz, quickest_hz = (
            (SLOWEST_HZ, QUICKEST_HZ)
            if kind is Kind.SINGLE
            else (SLOWEST_PAIR_HZ, QUICKEST_PAIR_HZ)
        )
        return SoundCue(kind, pitch_hz, quickest_hz * (slowest_hz / quickest_hz) ** part)
