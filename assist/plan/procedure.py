"""What to do on the place, step by step, and what to take care of."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from assist.base import terms
from assist.base.words import _, current
from assist.guidance.hazards import cautions, cautions_at_start
from assist.plan import formats
from assist.plan.formats import LengthFormat
from assist.plan.plan import GroundMark, Plan


@dataclass(frozen=True)
class Step:
    """One thing to do."""

    title: str
    text: str


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
            _("Check"),
            _(
                "Look at the eyes at full size before you pack up: nearer things sharper than the "
                "eyes mean you were too far back, farther things too near."
            ),
        ),
    )


def _mark(plan: Plan, at: str) -> GroundMark:
    return next(mark for mark in plan.ground_marks if mark.at == at)


def _place_camera(plan: Plan, show: LengthFormat) -> Step:
    aim, lens = plan.framing.aim, plan.set_up.lens
    return Step(
        _("Place the camera"),
        _(
            "Tripod with the lens {height} above the ground, {orientation}, {tilt}. "
            "{focal_length}, {aperture}. Lock the head.",
            height=show.length(aim.camera_height_m),
            orientation=terms.told(plan.framing.orientation),
            tilt=formats.tilt(aim.tilt_rad),
            focal_length=formats.focal_length(lens.focal_length_mm),
            aperture=formats.f_number_set(lens.f_number),
        ),
    )


def _tape(plan: Plan, show: LengthFormat) -> Step:
    near, mark, far = (_mark(plan, at) for at in ("near limit", "mark", "far limit"))
    if math.isinf(far.along_ground_m):
        tape = _(
            "From the ground right under the sensor mark: the mark at {mark}, the near limit at "
            "{near}. With the tape stretched from the camera itself: {mark_stretched} and "
            "{near_stretched}.",
            mark=show.length(mark.along_ground_m),
            near=show.length(near.along_ground_m),
            mark_stretched=show.length(mark.stretched_m),
            near_stretched=show.length(near.stretched_m),
        )
    else:
        tape = _(
            "From the ground right under the sensor mark: the mark at {mark}, the near limit at "
            "{near}, the far limit at {far}. With the tape stretched from the camera itself: "
            "{mark_stretched} and {near_stretched} and {far_stretched}.",
            mark=show.length(mark.along_ground_m),
            near=show.length(near.along_ground_m),
            far=show.length(far.along_ground_m),
            mark_stretched=show.length(mark.stretched_m),
            near_stretched=show.length(near.stretched_m),
            far_stretched=show.length(far.stretched_m),
        )
    under_eyes = (
        _("Your eyes belong over the mark, not your knees or feet.")
        if plan.person.is_seated
        else _("Your eyes belong over the mark, not your toes.")
    )
    return Step(_("Tape the marks"), f"{tape} {under_eyes}")


def _stand_in(plan: Plan, show: LengthFormat) -> Step:
    eyes = show.length(plan.person.eyes_m)
    text = (
        _(
            "A light stand or chair with something of fine detail right over the mark, at the "
            "height of your eyes (about {height}, sitting upright: measure yours once).",
            height=eyes,
        )
        if plan.person.is_seated
        else _(
            "A light stand or chair with something of fine detail right over the mark, at the "
            "height of your eyes ({height}).",
            height=eyes,
        )
    )
    return Step(_("Place a stand-in"), text)


def _focus() -> Step:
    return Step(
        _("Focus and lock"),
        _(
            "Focus on the stand-in, magnified if the camera can. Switch to manual focus, tape the "
            "ring if it turns lightly, and touch neither focus nor zoom again."
        ),
    )


def _recompose(plan: Plan, show: LengthFormat) -> Step:
    turn = plan.recomposing
    if turn.share_of_room < 0.01:
        advice = _("that is nothing to worry about")
    else:
        advice = _(
            "it uses up {share} of the room in front of the mark; avoid it by moving the focus "
            "point instead of the camera",
            share=formats.percent(turn.share_of_room),
        )
    return Step(
        _("Recompose"),
        _(
            "If you focused with the middle of the frame on the eyes, the camera turns back by "
            "{angle} and the plane of focus lands {shift} behind them: {advice}.",
            angle=formats.degrees(turn.angle_rad),
            shift=show.length(turn.shift_m),
            advice=advice,
        ),
    )


def _expose(plan: Plan) -> Step:
    movement = plan.set_up.person.movement
    limit = next(x for x in plan.motion if x.movement == movement)
    longest = _("its fastest time") if limit.shutter is None else formats.shutter(limit.shutter)
    given, doing = plan.set_up.exposure, formats.movement(movement, plan.person)
    if given.shutter_s is None or given.iso is None:
        text = _(
            "Manual exposure. For {movement} use {longest} or faster.",
            movement=doing,
            longest=longest,
        )
    else:
        text = _(
            "Manual exposure. For {movement} use {longest} or faster; planned: {shutter} at ISO "
            "{iso}.",
            movement=doing,
            longest=longest,
            shutter=formats.dial_time(given.shutter_s),
            iso=formats.iso(given.iso),
        )
    return Step(_("Set the exposure"), text)


def _timer(plan: Plan, show: LengthFormat) -> Step:
    walk, chosen = plan.walk, plan.set_up.timer.delay_s
    way, needed = show.length(walk.path_m), formats.seconds(walk.needed_s)
    delay = walk.shortest_timer_s if chosen is None else chosen
    if chosen is not None and chosen < walk.needed_s:
        text = _(
            "The way to the mark is {way}: with turning and settling it takes {time}; the {delay} "
            "chosen are too short: take {better}.",
            way=way,
            time=needed,
            delay=formats.delay(chosen),
            better=_("a remote")
            if walk.shortest_timer_s is None
            else formats.delay(walk.shortest_timer_s),
        )
    elif delay is None:
        text = _(
            "The way to the mark is {way}: with turning and settling it takes {time}, longer than "
            "self-timers run: use a remote.",
            way=way,
            time=needed,
        )
    else:
        text = _(
            "Self-timer {delay}. The way to the mark is {way}: with turning and settling it takes "
            "{time}; {spare} to spare. Move forwards, do not hurry.",
            delay=formats.delay(delay),
            way=way,
            time=needed,
            spare=formats.seconds(delay - walk.needed_s),
        )
    return Step(_("Start the timer"), text)


def print_steps(plan: Plan, show: LengthFormat, console: Console, *, full: bool = True) -> None:
    """The procedure and the cautions in the terminal; `full`, or the weightiest of them."""
    console.print(Text("\n" + _("Step by step"), style="bold"))
    for number, step in enumerate(steps(plan, show), 1):
        line = Text.assemble(f"{number}. ", (f"{step.title}. ", "bold"), step.text)
        console.print(Padding(line, (0, 0, 0, 2)))
    console.print(Text("\n" + _("Take care"), style="bold"))
    told = cautions(plan.set_up, current())
    weightiest = cautions_at_start(plan.set_up, current(), forward_only=False, by_ear=False)
    for caution in told if full else [*weightiest, told[-1]]:
        console.print(Padding(Text(f"- {caution}"), (0, 0, 0, 2)))
