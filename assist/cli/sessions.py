"""`assist sessions`: what was tried, listed, shown and exported."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from assist.base.csv_table import to_csv
from assist.base.errors import UserError
from assist.base.files import plain, write_whole
from assist.cli.examples import examples
from assist.guidance.verdict import Verdict
from assist.session import folder as store
from assist.session.folder import Attempt, read_record
from assist.setup import set_up as set_ups

_LIST_EXAMPLES = ("assist sessions list", "assist sessions list pictures/sessions")
_SHOW_EXAMPLES = ("assist sessions show saturday",)
_EXPORT_EXAMPLES = (
    "assist sessions export saturday",
    "assist sessions export saturday --output attempts.csv",
)

app = typer.Typer(
    help="List, show and export sessions.",
    epilog=examples(_LIST_EXAMPLES[0], *_SHOW_EXAMPLES, _EXPORT_EXAMPLES[0]),
    no_args_is_help=True,
)

_BASE = Path("sessions")
_Folder = Annotated[Path, typer.Argument(help="The session's folder.")]


@app.command("list", epilog=examples(*_LIST_EXAMPLES))
def list_(
    base: Annotated[
        Path | None,
        typer.Argument(
            help="Folder that holds the sessions; if left out, ./sessions and the current folder."
        ),
    ] = None,
) -> None:
    """List the sessions in a folder, by name."""
    if base is not None and not base.is_dir():
        raise UserError(f"folder {base} does not exist: name the one that holds your sessions")
    # Those of the current folder are there because --session gave a name of its own.
    folders = _sessions_in(base) if base else [*_sessions_in(_BASE), *_sessions_in(Path())]
    if not folders:
        where = f"folder {base} holds" if base else "./sessions and the current folder hold"
        raise UserError(f"{where} no sessions: name the folder that does")
    for folder in folders:
        name = plain(folder.name if base else str(folder))
        try:
            attempts = read_record(folder)
            lens = set_ups.load(folder / store.SET_UP_FILE).lens
        except UserError as error:  # one damaged session must not hide the others
            typer.echo(f"{name}: {plain(str(error))}")
            continue
        tried = "1 attempt" if len(attempts) == 1 else f"{len(attempts)} attempts"
        focused = sum(a.verdict == Verdict.IN_FOCUS.value for a in attempts)
        typer.echo(
            f"{name}: {lens.focal_length_mm:g} mm, f/{lens.f_number:g}, "
            f"{lens.focus_distance_m:g} m; {tried}, {focused} in focus"
        )


def _sessions_in(base: Path) -> list[Path]:
    if not base.is_dir():
        return []
    return sorted(f for f in base.iterdir() if f.is_dir() and store.is_session(f))


@app.command("show", epilog=examples(*_SHOW_EXAMPLES))
def show(session: _Folder) -> None:
    """Show every attempt of a session."""
    for line in lines_of(_attempts(session)):
        typer.echo(plain(line))


@app.command("export", epilog=examples(*_EXPORT_EXAMPLES))
def export(
    session: _Folder,
    output: Annotated[
        Path | None,
        typer.Option("--output", metavar="FILE", help="CSV file; attempts.csv in the session."),
    ] = None,
) -> None:
    """Write every attempt of a session as CSV."""
    path = output or session / "attempts.csv"
    write_whole(path, attempts_csv(_attempts(session)))
    typer.echo(f"csv: {path}")


def _attempts(folder: Path) -> list[Attempt]:
    if not folder.is_dir():
        raise UserError(f"session folder {folder} does not exist")
    if not store.is_session(folder):
        raise UserError(f"{folder} is not a session: it holds no {store.SET_UP_FILE}")
    return read_record(folder)


def lines_of(attempts: list[Attempt]) -> list[str]:
    """Every attempt in a line."""
    if not attempts:
        return ["no attempts yet"]
    lines = []
    for a in attempts:
        where = ""
        if a.distance_m is not None:
            where = f", eyes at {a.distance_m:.2f} m"
            if a.standard_deviation_m is not None:
                where += f" (sd {a.standard_deviation_m:.2f} m)"
        parts = [f"{a.attempt:>4}  {a.taken_at:%Y-%m-%d %H:%M:%S}  {a.verdict}{where}"]
        parts += [a.picture] if a.picture else []
        parts += [f"problem: {a.problem}"] if a.problem else []
        lines.append("; ".join(parts))
    return lines


def attempts_csv(attempts: list[Attempt]) -> bytes:
    """The record as CSV, the set-up's values in columns of their own."""
    rows: list[dict[str, Any]] = []
    columns = [name for name in Attempt.model_fields if name != "set_up"]
    for attempt in attempts:
        row = attempt.model_dump(exclude={"set_up"})
        for part, values in attempt.set_up.items():
            if isinstance(values, dict):
                row |= {f"{part}.{name}": value for name, value in values.items()}
        columns += [name for name in row if name not in columns]
        rows.append(row)
    return to_csv(rows, columns)
