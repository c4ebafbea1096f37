"""What the page is given once, when it is opened: all that does not change during a run."""

from __future__ import annotations

from typing import Any

from assist.base.words import Words
from assist.output.screen.palette import THEMES
from assist.output.screen.plan_view import PlanView
from assist.output.sound import level, note_patterns, waves
from assist.output.sound.note_patterns import Note


def page_settings(
    view: PlanView,
    say: Words,
    volume_percent: float,
    *,
    theme: str = "plain",
    mirrored: bool = True,
    video: bool = False,
    mark: bool = False,
) -> dict[str, Any]:
    """Values that the page's script reads.

    theme: the one that the page begins with.   mark: whether the mark can be taught on it.
    """
    return {
        "theme": theme,
        "themes": list(THEMES),
        "video": video,
        "mirrored": mirrored,
        "mark": mark,
        "strip": {
            "near": view.part(view.near_m),
            "focus": view.part(view.best_m),
            "far": view.part(view.far_m),
            "near_text": say.number(view.near_m, 2),
            "far_text": say.number(view.far_m, 2),
        },
        "sounds": {
            "peak": level.amplitude(level.peak_dbfs(volume_percent)),
            "beside": note_patterns.BESIDE,
            "overtones": waves.OVERTONES,
            "held": waves.HELD_RAMPS_S,
            "struck": waves.STRUCK_RAMPS_S,
            "decay": waves.DECAY,
            "last_ticks": note_patterns.LAST_TICKS,
            "tick": notes(note_patterns.TICK),
            "last_tick": notes(note_patterns.LAST_TICK),
            "taken": notes(note_patterns.TAKEN),
            "now": notes(note_patterns.NOW),
            "trouble": notes(note_patterns.TROUBLE),
        },
    }


def notes(of: tuple[Note, ...]) -> list[dict[str, Any]]:
    """Notes as JSON-ready values."""
    return [
        {
            "at": round(note.at_s, 4),
            "seconds": round(note.seconds, 4),
            "pitch": round(note.pitch_hz, 2),
            "part": note.part,
            "struck": note.struck,
            "sway": note.sway_semitones,
        }
        for note in of
    ]
