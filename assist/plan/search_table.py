"""The ranked answer of a search in the terminal, or why there is none."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from assist.base.words import _, _n
from assist.plan import formats
from assist.plan.formats import LengthFormat
from assist.plan.search import Choice, SearchOutcome
from assist.plan.tables import grid

MOST_SHOWN = 8


def print_outcome(outcome: SearchOutcome, show: LengthFormat, console: Console) -> None:
    """The best choice of each lens, best first, each with its reason."""
    if outcome.why_none is not None:
        console.print(Text(outcome.why_none, style="bold"))
        if outcome.suggestions:
            console.print(Text("\n" + _("Any one of these would make it possible:")))
        for suggestion in outcome.suggestions:
            console.print(Padding(Text(f"- {suggestion.text}"), (0, 0, 0, 2)))
        return
    chosen = [outcome.choices[rank - 1] for rank in outcome.best_of_each[:MOST_SHOWN]]
    picked = outcome.choices[(outcome.chosen or 1) - 1]
    if picked not in chosen:
        chosen.append(picked)
    found = _n(
        "{n} set-up does all that is wanted; the best of each lens:",
        "{n} set-ups do all that is wanted; the best of each lens:",
        len(outcome.choices),
    )
    console.print(Text(found, style="bold"))
    console.print(Padding(_table(chosen, picked, show), (0, 0, 0, 2)))
    for choice in chosen:
        console.print(Padding(Text(f"{choice.rank}. {choice.reason}."), (0, 0, 0, 2)))
    if picked.iso:
        ranked = _(
            "Ranked by what it costs in stops: ISO above the lowest, diffraction, frame left to "
            "crop, less up to a stop for spare room."
        )
    else:
        ranked = _(
            "Ranked by what it costs in stops: the aperture, as the light is not known, "
            "diffraction, frame left to crop, less up to a stop for spare room."
        )
    console.print(Text("\n" + ranked))
    title = _("Plan of number {rank}:", rank=picked.rank)
    console.print(Text("\n" + title, style="bold"))


def _table(chosen: list[Choice], picked: Choice, show: LengthFormat) -> Table:
    table = grid(
        "", _("set-up"), _("distance"), _("before"), _("behind"), _("shutter"), _("ISO"), _("cost")
    )
    for choice in chosen:
        table.add_row(
            f"{choice.rank}.",
            formats.number(f"{choice.lens} {choice.aperture}"),
            show.length(choice.focus_distance_m),
            show.length(choice.in_front_m),
            show.length(choice.behind_m),
            "-" if choice.shutter is None else formats.shutter(choice.shutter),
            choice.iso or "-",
            formats.number(f"{round(choice.cost_in_stops, 1) + 0.0:.1f}"),
            style="bold" if choice is picked else None,
        )
    return table
