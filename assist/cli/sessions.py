"""`assist sessions`: what was tried, listed, shown and exported."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.files import plain, write_whole
from assist.base.words import _
from assist.cli.examples import examples
from assist.session import told
from assist.session.place import SESSIONS, session_named

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

_Folder = Annotated[
    Path, typer.Argument(parser=session_named, help="The session's name, or its folder.")
]


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
        raise UserError(
            _("folder {folder} does not exist: name the one that holds your sessions", folder=base)
        )
    # Those of the current folder were named so before sessions had one place.
    places = (SESSIONS, Path()) if base is None else (base,)
    found = [session for place in places for session in told.sessions_in(place)]
    if not found and base is None:
        raise UserError(
            _("./sessions and the current folder hold no sessions: name the folder that does")
        )
    if not found:
        raise UserError(
            _("folder {folder} holds no sessions: name the folder that does", folder=base)
        )
    for session in found:
        typer.echo(f"{plain(session.folder.name)}: {plain(session.in_words())}")


@app.command("show", epilog=examples(*_SHOW_EXAMPLES))
def show(session: _Folder) -> None:
    """Show every attempt of a session."""
    for line in told.lines_of(told.attempts_of(session)):
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
    write_whole(path, told.attempts_csv(told.attempts_of(session)))
    typer.echo(_("csv: {file}", file=path))
