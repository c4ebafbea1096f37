"""What the second screen is told: words and numbers ready to be shown, nothing to be worked out."""

from __future__ import annotations

from typing import Any

from assist.base.phrases import Phrases
from assist.guidance.assistant import Moment
from assist.guidance.countdown import CountdownState
from assist.guidance.guide import Action
from assist.output.phone.page_settings import notes
from assist.output.screen.plan_view import PlanView
from assist.output.sound.cues import Cue, CueMaker
from assist.output.sound.figures import figure


def message(
    moment: Moment,
    countdown: CountdownState | None,
    say: Phrases,
    cues: CueMaker,
    view: PlanView,
) -> dict[str, Any]:
    """The moment as JSON-ready values. Keys: see `page/page.js`, which reads them."""
    guidance = moment.guidance
    cue = cues.cue(guidance)
    distance = moment.assessment.distance
    return {
        "sign": guidance.action.value,
        "lean": guidance.lean,
        "word": say.text(f"action.{guidance.action.value}"),
        "length": guidance.length_shown(distance, view.zone, say),
        "caution": " · ".join(
            text for text in (guidance.caution, *guidance.trouble.splitlines()) if text
        ),
        "sentence": guidance.sentence,
        "also": list(guidance.also[:2]),
        "count": count_text(countdown, say),
        "warning": warning_text(countdown, say),
        "left": countdown.seconds_left if countdown and countdown.counting else None,
        "fired": fired_as(countdown),
        "trouble": bool(guidance.trouble)
        or guidance.action is Action.NO_FEED
        or (countdown is not None and countdown.trouble),
        "place": None if distance is None else [round(part, 4) for part in view.person(distance)],
        "cue": None if cue is None else sounding(cue),
    }


def sounding(cue: Cue) -> dict[str, Any]:
    """The notes of a cue, and the time from one beginning to the next; 0 for a steady tone."""
    made = figure(cue)
    return {"kind": cue.kind.value, "period": round(made.period_s, 4), "notes": notes(made.notes)}


def count_text(countdown: CountdownState | None, say: Phrases) -> str:
    """The countdown in one word or figure."""
    if countdown is None:
        return ""
    word = countdown.word
    return str(countdown.shown) if word is None else say.text(f"screen.{word}")


def warning_text(countdown: CountdownState | None, say: Phrases) -> str:
    """What is to be warned of besides the word; "" for nothing."""
    if countdown is None:
        return ""
    if countdown.camera_runs_on:
        return say.text("screen.camera_runs_on")
    return say.text("screen.warning") if countdown.warning else ""


def fired_as(countdown: CountdownState | None) -> str:
    """The signal for a picture: "taken", "now" (nobody tells whether it was), or "" for none."""
    if countdown is None or not countdown.fired or countdown.trouble:
        return ""
    return "now" if countdown.unheard else "taken"
