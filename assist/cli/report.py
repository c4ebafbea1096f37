"""`assist report`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.files import plain, write_whole
from assist.base.words import _
from assist.cli.examples import examples
from assist.report import as_page, as_pdf, summary
from assist.session.place import session_named

EXAMPLES = examples(
    "assist report saturday",
    "assist report saturday --output printed",
)


def report(
    session: Annotated[
        Path, typer.Argument(parser=session_named, help="The session's name, or its folder.")
    ],
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", metavar="FOLDER", help="Where it goes; the session's folder if left out."
        ),
    ] = None,
) -> None:
    """Write one page about a session: set-up, plan, attempts, rehearsals, what to keep.

    As report.html and report.pdf.
    """
    told = summary.gather(session)
    folder = output or session
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(
            _("cannot make folder {folder}: {why}", folder=folder, why=error.strerror)
        ) from error
    page, pdf = folder / "report.html", folder / "report.pdf"
    write_whole(page, as_page.page_of(told))
    write_whole(pdf, as_pdf.pdf_of(told))
    typer.echo(plain(as_page.in_words(told)))
    for line in told.keep:
        typer.echo(plain(f"- {line}"))
    typer.echo(_("report: {file}", file=page))
    typer.echo(_("report: {file}", file=pdf))
