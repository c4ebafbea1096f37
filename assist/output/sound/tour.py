"""All sounds one after another with their names, so that they can be learned before a run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assist.base.phrases import Phrases
from assist.guidance.countdown import CountdownState
from assist.guidance.guide import Action, Guidance
from assist.output.sound.cues import CueMaker
from assist.output.sound.figures import BEGIN, END, NOW, TROUBLE, Note
from assist.output.sound.renderer import Renderer, Samples
from optics.focus_zone import FocusZone

_ZONE = FocusZone(3.5, 4.0, 4.5)
BLOCK_S = 0.02
_PAUSE_S = 0.8


@dataclass(frozen=True, slots=True)
class Scene:
    """A stretch of the tour: its name, and where the person is from its start to its end.

    notes: what is sounded once at its start.
    """

    name: str
    action: Action
    from_m: float | None
    to_m: float | None
    seconds: float
    counts_down: bool = False
    notes: tuple[Note, ...] = ()


def scenes(say: Phrases) -> tuple[Scene, ...]:
    """A walk from too far and one from too near, doubt, no one, signals, a countdown."""
    name = say.group("tour")
    return (
        Scene(name["too_far"], Action.FORWARD, 3.5, 0.5, 5.0),
        Scene(name["stop"], Action.STOP, 0.5, 0.3, 1.5),
        Scene(name["in_focus"], Action.HOLD, 0.0, 0.0, 2.0),
        Scene(name["too_near"], Action.BACK, -3.5, -0.5, 5.0),
        Scene(name["not_sure_far"], Action.NOT_SURE, 0.5, 0.5, 2.0),
        Scene(name["not_sure_near"], Action.NOT_SURE, -0.5, -0.5, 2.0),
        Scene(name["no_one"], Action.NO_ONE, None, None, 4.0),
        Scene(name["now"], Action.NO_FEED, None, None, 0.6, notes=NOW),
        Scene(name["failed"], Action.NO_FEED, None, None, 0.8, notes=TROUBLE),
        Scene(name["begin"], Action.NO_FEED, None, None, 0.6, notes=BEGIN),
        Scene(name["end"], Action.NO_FEED, None, None, 0.6, notes=END),
        Scene(name["countdown"], Action.HOLD, 0.0, 0.0, 5.5, counts_down=True),
    )


def play(scene: Scene, renderer: Renderer) -> Iterator[Samples]:
    """The scene's samples, block by block, with a short silence after it."""
    cues, block = CueMaker(_ZONE), round(BLOCK_S * renderer.rate_hz)
    count = round(scene.seconds / BLOCK_S)
    if scene.notes:
        renderer.ring(scene.notes)
    for n in range(count):
        at_m = None
        if scene.from_m is not None and scene.to_m is not None:
            at_m = scene.from_m + (scene.to_m - scene.from_m) * n / count
        left_s = max(0.0, scene.seconds - 0.5 - n * BLOCK_S)
        countdown = None
        if scene.counts_down:
            countdown = CountdownState(left_s, int(left_s), fired=left_s == 0.0)
        renderer.tell(cues.cue(Guidance(scene.action, at_m, "", "")), countdown)
        yield renderer.render(block)
    for _ in range(round(_PAUSE_S / BLOCK_S)):
        renderer.tell(None, None)
        yield renderer.render(block)
