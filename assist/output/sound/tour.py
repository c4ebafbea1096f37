"""All sounds one after another with their names, so that they can be learned before a run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assist.base.words import Words
from assist.guidance.advice import Sideways
from assist.guidance.countdown import CountdownState
from assist.guidance.guide import Action, Guidance, Reason, Why
from assist.output.sound.cues import CueMaker
from assist.output.sound.note_patterns import BEGIN, END, NOW, TROUBLE, Note
from assist.output.sound.renderer import Renderer, Samples
from optics.focus_zone import FocusZone

_ZONE = FocusZone(3.5, 4.0, 4.5)
_NOT_TOLD = Why(Reason.NOT_SURE)
BLOCK_S = 0.02
_PAUSE_S = 0.8


@dataclass(frozen=True, slots=True)
class TourStop:
    """A stretch of the tour: its name, and where the person is from its start to its end.

    aside_m: how far they are to go sideways, as in `advice.Sideways`.
    notes: what is sounded once at its start.
    """

    name: str
    action: Action
    from_m: float | None
    to_m: float | None
    seconds: float
    counts_down: bool = False
    aside_m: float | None = None
    notes: tuple[Note, ...] = ()


def stops(say: Words) -> tuple[TourStop, ...]:
    """A walk from too far and one from too near, doubt, no one, signals, a countdown."""
    _ = say.gettext
    return (
        TourStop(
            _("too far: single pulses, high; quicker and lower as you come nearer the zone"),
            Action.FORWARD,
            3.5,
            0.5,
            5.0,
        ),
        TourStop(_("stop: three quick notes, again and again"), Action.STOP, 0.5, 0.3, 1.5),
        TourStop(_("in focus: one steady tone"), Action.HOLD, 0.0, 0.0, 2.0),
        TourStop(
            _(
                "too near: falling pairs, low; quicker and higher as you come nearer the zone; "
                "look behind you before you move back"
            ),
            Action.BACK,
            -3.5,
            -0.5,
            5.0,
        ),
        TourStop(
            _("not sure, rather too far: a note that wavers, high"), Action.NOT_SURE, 0.5, 0.5, 2.0
        ),
        TourStop(
            _("not sure, rather too near: a note that wavers, low"),
            Action.NOT_SURE,
            -0.5,
            -0.5,
            2.0,
        ),
        TourStop(
            _(
                "in focus, but cut off by the picture's edge: four quick notes, high and low in "
                "turn"
            ),
            Action.REFRAME,
            0.0,
            0.0,
            2.0,
        ),
        TourStop(
            _("in focus, go to your right: a long low note and a short high one"),
            Action.REFRAME,
            0.0,
            0.0,
            2.0,
            aside_m=-0.8,
        ),
        TourStop(
            _("in focus, go to your left: a long high note and a short low one"),
            Action.REFRAME,
            0.0,
            0.0,
            2.0,
            aside_m=0.8,
        ),
        TourStop(
            _("too near, with --forward-only: two low notes and a high one: go round the mark"),
            Action.AGAIN,
            -0.5,
            -0.5,
            2.5,
        ),
        TourStop(
            _("no one in view: a low note every three seconds"), Action.NO_ONE, None, None, 4.0
        ),
        TourStop(
            _("the camera's own timer ends about now: one long high note"),
            Action.NO_FEED,
            None,
            None,
            0.6,
            notes=NOW,
        ),
        TourStop(
            _("something failed: three falling notes"),
            Action.NO_FEED,
            None,
            None,
            0.8,
            notes=TROUBLE,
        ),
        TourStop(
            _("at a mark that is learned, watching begins: two rising notes"),
            Action.NO_FEED,
            None,
            None,
            0.6,
            notes=BEGIN,
        ),
        TourStop(
            _("watching is over: two falling notes"), Action.NO_FEED, None, None, 0.6, notes=END
        ),
        TourStop(
            _("countdown: a tick each second, higher for the last three, then: taken"),
            Action.HOLD,
            0.0,
            0.0,
            5.5,
            counts_down=True,
        ),
    )


def play(stop: TourStop, renderer: Renderer) -> Iterator[Samples]:
    """The stop's samples, block by block, with a short silence after it."""
    cues, block = CueMaker(_ZONE), round(BLOCK_S * renderer.rate_hz)
    count = round(stop.seconds / BLOCK_S)
    if stop.notes:
        renderer.ring(stop.notes)
    for n in range(count):
        at_m = None
        if stop.from_m is not None and stop.to_m is not None:
            at_m = stop.from_m + (stop.to_m - stop.from_m) * n / count
        left_s = max(0.0, stop.seconds - 0.5 - n * BLOCK_S)
        countdown = None
        if stop.counts_down:
            countdown = CountdownState(left_s, int(left_s), fired=left_s == 0.0)
        aside = () if stop.aside_m is None else (Sideways(stop.aside_m, stop.aside_m > 0),)
        guidance = Guidance(stop.action, at_m, _NOT_TOLD, advice=aside)
        renderer.tell(cues.cue(guidance), countdown)
        yield renderer.render(block)
    for _ in range(round(_PAUSE_S / BLOCK_S)):
        renderer.tell(None, None)
        yield renderer.render(block)
