"""Sessions told: which there are in a folder, every attempt in a line or in a table's row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assist.base.csv_table import to_csv
from assist.base.errors import UserError
from assist.base.words import _, _n, _p, current
from assist.guidance.verdict import Verdict
from assist.session.folder import SET_UP_FILE, Attempt, is_session, read_record
from assist.setup import set_up as set_ups
from assist.setup.set_up import SetUp

_VERDICTS: dict[str, Callable[[], str]] = {
    "too near": lambda: _p("verdict", "too near"),
    "in focus": lambda: _p("verdict", "in focus"),
    "too far": lambda: _p("verdict", "too far"),
    "not sure": lambda: _p("verdict", "not sure"),
    "no one in view": lambda: _p("verdict", "no one in view"),
}
_PARTS: dict[str, Callable[[], str]] = {
    "head": lambda: _p("part of the body", "head"),
    "hand": lambda: _p("part of the body", "hand"),
    "feet": lambda: _p("part of the body", "feet"),
}


def verdict_told(recorded: str) -> str:
    """A verdict as a record holds it, in words; one that is not known, as it is."""
    told = _VERDICTS.get(recorded)
    return recorded if told is None else told()


def parts_told(recorded: Iterable[str]) -> str:
    """Parts of the body that a picture cuts off, as a record holds them, in words."""
    return ", ".join(_PARTS[part]() if part in _PARTS else part for part in recorded)


@dataclass(frozen=True)
class SessionFound:
    """A session in a folder, or why it cannot be read."""

    folder: Path
    set_up: SetUp | None = None
    attempts: Sequence[Attempt] = ()
    damaged: str = ""

    def in_words(self) -> str:
        """Lens, aperture, focus distance and how often it came out."""
        if self.set_up is None:
            return self.damaged
        lens, say = self.set_up.lens, current()
        tried = _n("{n} attempt", "{n} attempts", len(self.attempts))
        return _(
            "{focal_length} mm, f/{f_number}, {focus} m; {tried}, {focused} in focus",
            focal_length=say.decimal(f"{lens.focal_length_mm:g}"),
            f_number=say.decimal(f"{lens.f_number:g}"),
            focus=say.decimal(f"{lens.focus_distance_m:g}"),
            tried=tried,
            focused=sum(a.verdict == Verdict.IN_FOCUS.value for a in self.attempts),
        )


def sessions_in(base: Path) -> Iterator[SessionFound]:
    """The sessions in a folder, by name; a damaged one does not hide the others."""
    if not base.is_dir():
        return
    for folder in sorted(f for f in base.iterdir() if f.is_dir() and is_session(f)):
        try:
            attempts = read_record(folder)
            set_up = set_ups.load(folder / SET_UP_FILE)
        except UserError as error:
            yield SessionFound(folder, damaged=str(error))
        else:
            yield SessionFound(folder, set_up, attempts)


def attempts_of(folder: Path) -> list[Attempt]:
    """The attempts of a session; UserError where the folder is none."""
    if not folder.is_dir():
        raise UserError(_("session folder {folder} does not exist", folder=folder))
    if not is_session(folder):
        raise UserError(
            _("{folder} is not a session: it holds no {file}", folder=folder, file=SET_UP_FILE)
        )
    return read_record(folder)


def lines_of(attempts: Sequence[Attempt]) -> list[str]:
    """Every attempt in a line."""
    if not attempts:
        return [_("no attempts yet")]
    return [_line(attempt) for attempt in attempts]


def _line(a: Attempt) -> str:
    say = current()
    parts = [f"{a.attempt:>4}  {a.taken_at:%Y-%m-%d %H:%M:%S}  {verdict_told(a.verdict)}"]
    if a.distance_m is not None:
        where = _("eyes at {distance} m", distance=say.figure(a.distance_m, 2))
        if a.standard_deviation_m is not None:
            where = _(
                "eyes at {distance} m (sd {sd} m)",
                distance=say.figure(a.distance_m, 2),
                sd=say.figure(a.standard_deviation_m, 2),
            )
        parts[0] += f", {where}"
    parts += [
        _("person {n} {verdict} at {distance} m", n=one.place, verdict=verdict_told(one.verdict),
          distance="?" if one.distance_m is None else say.figure(one.distance_m, 2))
        for one in a.people
    ]  # fmt: skip
    parts += [a.picture] if a.picture else []
    parts += [_("problem: {problem}", problem=a.problem)] if a.problem else []
    return "; ".join(parts)


def attempts_csv(attempts: Sequence[Attempt]) -> bytes:
    """The record as CSV, the set-up's values in columns of their own."""
    rows: list[dict[str, Any]] = []
    columns = [name for name in Attempt.model_fields if name not in ("set_up", "people")]
    for attempt in attempts:
        row = attempt.model_dump(exclude={"set_up", "people"})
        for one in attempt.people:
            told = one.model_dump(exclude={"place"})
            row |= {f"person_{one.place}.{name}": value for name, value in told.items()}
        for part, values in attempt.set_up.items():
            if isinstance(values, dict):
                row |= {f"{part}.{name}": value for name, value in values.items()}
        columns += [name for name in row if name not in columns]
        rows.append(row)
    return to_csv(rows, columns)
