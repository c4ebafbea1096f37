"""What the second screen is told: words and numbers ready to be shown, nothing to be worked out."""

from __future__ import annotations

from typing import Any

from assist.assistant import Moment
from assist.countdown import CountdownState
from assist.guidance import Action
from assist.phrases import Phrases
from assist.sound.cues import CueMaker


def message(
    moment: Moment,
    countdown: CountdownState | None,
    say: Phrases,
    cues: CueMaker,
    sensor_offset_m: float,
) -> dict[str, Any]:
    """The moment as JSON-ready values. Keys: see `page/page.js`, which reads them."""
    guidance = moment.guidance
    cue = cues.cue(guidance)
    return {
        "sign": guidance.action.value,
        "lean": guidance.lean,
        "word": say.text(f"action.{guidance.action.value}"),
        "length": guidance.length_shown(moment.assessment.distance, sensor_offset_m, say),
        "caution": " · ".join(
            text for text in (guidance.caution, *guidance.trouble.splitlines()) if text
        ),
        "sentence": guidance.sentence,
        "also": list(guidance.also[:2]),
        "count": count_text(countdown, say),
        "warning": say.text("screen.warning") if countdown and countdown.warning else "",
        "left": countdown.seconds_left if countdown and countdown.counting else None,
        "fired": countdown is not None and countdown.fired and not countdown.trouble,
        "trouble": bool(guidance.trouble)
        or guidance.action is Action.NO_FEED
        or (countdown is not None and countdown.trouble),
        "cue": None
        if cue is None
        else {
            "kind": cue.kind.value,
            "pitch": round(cue.pitch_hz, 2),
            "tempo": round(cue.tempo_hz, 3),
        },
    }


def count_text(countdown: CountdownState | None, say: Phrases) -> str:
    """The countdown in one word or figure."""
    if countdown is None:
        return ""
    word = countdown.word
    return str(countdown.shown) if word is None else say.text(f"screen.{word}")
