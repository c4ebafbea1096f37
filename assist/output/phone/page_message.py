"""What the second screen is told: words and numbers ready to be shown, nothing to be worked out."""

from __future__ import annotations

from typing import Any

from assist.guidance.countdown import CountdownState
from assist.guidance.message import Message
from assist.output.phone.page_settings import notes
from assist.output.screen.plan_view import PlanView
from assist.output.sound.cues import CueMaker, SoundCue
from assist.output.sound.note_patterns import note_pattern


def page_message(message: Message, cues: CueMaker, view: PlanView) -> dict[str, Any]:
    """The message as JSON-ready values. Keys: see `page/page.js`, which reads them."""
    guidance, countdown = message.moment.guidance, message.countdown
    cue = cues.cue(guidance)
    distance = message.moment.assessment.distance
    return {
        "sign": guidance.action.value,
        "lean": guidance.lean,
        "word": message.big_word,
        "length": message.length,
        "caution": " · ".join(text for text in (message.caution, *message.troubles) if text),
        "sentence": message.sentence,
        "also": list(message.also[:2]),
        "others": guidance.others,
        "count": message.count,
        "warning": message.warning,
        "left": countdown.seconds_left if countdown and countdown.counting else None,
        "fired": fired_as(countdown),
        "trouble": message.in_trouble or (countdown is not None and countdown.trouble),
        "place": None if distance is None else [round(part, 4) for part in view.person(distance)],
        "cue": None if cue is None else sounding(cue),
    }


def sounding(cue: SoundCue) -> dict[str, Any]:
    """The notes of a cue, and the time from one beginning to the next; 0 for a steady tone."""
    made = note_pattern(cue)
    return {"kind": cue.kind.value, "period": round(made.period_s, 4), "notes": notes(made.notes)}


def fired_as(countdown: CountdownState | None) -> str:
    """The signal for a picture: "taken", "now" (nobody tells whether it was), or "" for none."""
    if countdown is None or not countdown.fired or countdown.trouble:
        return ""
    return "now" if countdown.unheard else "taken"
