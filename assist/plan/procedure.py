"""What to do on the place, step by step, and what to take care of."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from assist.plan import formats
from assist.plan.formats import LengthFormat
from assist.plan.plan import GroundMark, Plan


@dataclass(frozen=True)
class Step:
    """One thing to do."""

    title: str
    text: str


CAUTIONS = (
    "Move to the mark facing forwards, without haste. Never move backwards unseen: turn and look.",
    "Keep well away from edges, water, stairs, traffic and tracks. The rules of the place go "
    "before this plan.",
    "Tape cables and marks down flat; go round the tripod's legs, not over them.",
    "In wind, on slopes and on sand weigh the tripod down and keep it low; do not leave it alone "
    "where it could fall on somebody.",
)
"""The usual cautions. Common practice, no source."""


def steps(plan: Plan, show: LengthFormat) -> tuple[Step, ...]:
    """The procedure for this plan."""
    return (
        _place_camera(plan, show),
        _tape(plan, show),
        _stand_in(plan, show),
        _focus(),
        _recompose(plan, show),
        _expose(plan),
        _timer(plan, show),
        Step(
            "Check",
            "Look at the eyes at full size before you pack up: nearer things sharper than the eyes "
            "mean you were too far back, farther things too near.",
        ),
    )


def _mark(plan: Plan, at: str) -> GroundMark:
    return next(mark for mark in plan.ground_marks if mark.at == at)


def _place_camera(plan: Plan, show: LengthFormat) -> Step:
    aim, framed = plan.framing.aim, plan.framing
    return Step(
        "Place the camera",
        f"Tripod with the lens {show.length(aim.camera_height_m)} above the ground, "
        f"{framed.orientation}, {formats.tilt(aim.tilt_rad)}. {plan.set_up.lens.focal_length_mm:g} "
        f"mm, f/{plan.set_up.lens.f_number:g}. Lock the head.",
    )


def _tape(plan: Plan, show: LengthFormat) -> Step:
    near, mark, far = (_mark(plan, at) for at in ("near limit", "mark", "far limit"))
    text = (
        f"From the ground right under the sensor mark: the mark at "
        f"{show.length(mark.along_ground_m)}, the near limit at {show.length(near.along_ground_m)}"
    )
    if math.isfinite(far.along_ground_m):
        text += f", the far limit at {show.length(far.along_ground_m)}"
    text += (
        f". With the tape stretched from the camera itself: {show.length(mark.stretched_m)} and "
        f"{show.length(near.stretched_m)}"
    )
    if math.isfinite(far.stretched_m):
        text += f" and {show.length(far.stretched_m)}"
    other = "knees or feet" if plan.person.is_seated else "toes"
    return Step("Tape the marks", f"{text}. Your eyes belong over the mark, not your {other}.")


def _stand_in(plan: Plan, show: LengthFormat) -> Step:
    eyes = show.length(plan.person.eyes_m)
    if plan.person.is_seated:
        eyes = f"about {eyes}, sitting upright: measure yours once"
    return Step(
        "Place a stand-in",
        f"A light stand or chair with something of fine detail right over the mark, at the height "
        f"of your eyes ({eyes}).",
    )


def _focus() -> Step:
    return Step(
        "Focus and lock",
        "Focus on the stand-in, magnified if the camera can. Switch to manual focus, tape the ring "
        "if it turns lightly, and touch neither focus nor zoom again.",
    )


def _recompose(plan: Plan, show: LengthFormat) -> Step:
    turn = plan.recomposing
    if turn.share_of_room < 0.01:
        advice = "that is nothing to worry about"
    else:
        advice = (
            f"it eats {formats.percent(turn.share_of_room)} of the room before the mark; avoid it by "
            "moving the focus point instead of the camera"
        )
    return Step(
        "Recompose",
        f"If you focused with the middle of the frame on the eyes, the camera turns back by "
        f"{formats.degrees(turn.angle_rad)} and the plane of focus lands "
        f"{show.length(turn.shift_m)} behind them: {advice}.",
    )


def _expose(plan: Plan) -> Step:
    movement = plan.set_up.person.movement
    limit = next(x for x in plan.motion if x.movement == movement)
    longest = "its fastest time" if limit.shutter is None else formats.shutter(limit.shutter)
    given, doing = plan.set_up.exposure, formats.movement(movement, plan.person)
    text = f"Manual exposure. For {doing} use {longest} or faster"
    if given.shutter_s is not None and given.iso is not None:
        text += f"; planned: {formats.dial_time(given.shutter_s)} at ISO {given.iso:g}"
    return Step("Set the exposure", text + ".")


def _timer(plan: Plan, show: LengthFormat) -> Step:
    walk = plan.walk
    chosen = plan.set_up.timer.delay_s
    needed = (
        f"The way to the mark is {show.length(walk.path_m)}: with turning and settling it takes "
        f"{formats.seconds(walk.needed_s)}"
    )
    if chosen is not None and chosen < walk.needed_s:
        better = "a remote" if walk.shortest_timer_s is None else f"{walk.shortest_timer_s:g} s"
        return Step(
            "Start the timer", f"{needed}; the {chosen:g} s chosen are too short: take {better}."
        )
    delay = chosen if chosen is not None else walk.shortest_timer_s
    if delay is None:
        return Step("Start the timer", f"{needed}, longer than self-timers run: use a remote.")
    return Step(
        "Start the timer",
        f"Self-timer {delay:g} s. {needed}; {formats.seconds(delay - walk.needed_s)} to spare. "
        "Move forwards, do not hurry.",
    )


def print_steps(plan: Plan, show: LengthFormat, console: Console) -> None:
    """The procedure and the cautions in the terminal."""
    console.print(Text("\nStep by step", style="bold"))
    for number, step in enumerate(steps(plan, show), 1):
        line = Text.assemble(f"{number}. ", (f"{step.title}. ", "bold"), step.text)
        console.print(Padding(line, (0, 0, 0, 2)))
    console.print(Text("\nTake care", style="bold"))
    for caution in CAUTIONS:
        console.print(Padding(Text(f"- {caution}"), (0, 0, 0, 2)))
