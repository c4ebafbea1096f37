"""`assist review`."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import track

from assist.base import terms
from assist.base.errors import UserError
from assist.base.files import plain
from assist.base.words import _
from assist.cli.examples import examples
from assist.cli.options import common
from assist.review import picture, session_attempts
from assist.review.checked import CheckedPicture, Sharpness
from assist.review.examiner import Examined
from assist.review.reviewing import USUAL_PRINT, Reviewed, ReviewRequest
from assist.review.reviewing import review as review_pictures
from assist.review.sentence import told
from assist.session.folder import is_session
from assist.session.place import session_named

_MOST_NAMED = 10


EXAMPLES = examples(
    "assist review saturday",
    "assist review cards/*.jpg --session saturday",
    "assist review pictures --set-up set-up.toml --output checked --print '30cm from 50cm'",
    "assist review pictures --json",
)


def review(
    pictures: Annotated[
        list[Path] | None,
        typer.Argument(
            parser=session_named,
            help="Picture files (JPEG, PNG, TIFF, raw), folders of them, or a session's name.",
        ),
    ] = None,
    set_up: Annotated[
        Path | None, typer.Option("--set-up", metavar="FILE", help="Set-up file (TOML).")
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--session",
            metavar="NAME",
            parser=session_named,
            help="Session whose set-up and record the pictures belong to.",
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            metavar="FOLDER",
            help="Where the report goes; if left out, review in the session's folder, else "
            "./review. Where there is one already, review-2 and so on.",
        ),
    ] = None,
    criterion: Annotated[
        str | None,
        typer.Option("--criterion", help="What counts as sharp, over the set-up's: 2px, 0.02mm."),
    ] = None,
    print_size: Annotated[
        str,
        typer.Option(
            "--print", help="Print that a picture should at least do for: 30cm from 50cm."
        ),
    ] = USUAL_PRINT,
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, max=32, help="Pictures worked on at once.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
    pose_model: common.PoseModel = None,
) -> None:
    """Check the pictures themselves: are the eyes sharp, and if not, why and what to change.

    Writes a report with thumbnails, the eyes at 100 % and where you stood in the zone, and the same
    as CSV and JSON. The pictures are only read, and stay on this machine.
    """
    given = pictures or ([] if keep is None else [keep])
    if not given:
        raise UserError(_("no pictures given: name files, a folder or a session"))
    if keep is None and len(given) == 1 and is_session(given[0]):
        keep = given[0]
    paths = picture.find(given)
    request = ReviewRequest(paths, set_up, keep, output, criterion, print_size, workers, pose_model)

    def on_terminal(checked: Iterable[Examined]) -> Iterable[Examined]:
        return track(
            checked,
            _("checking"),
            total=len(paths),
            console=Console(stderr=True),
            transient=True,
            disable=not sys.stderr.isatty(),
        )

    reviewed = review_pictures(request, on_terminal)
    if as_json:
        typer.echo(reviewed.as_json(), nl=False)
    else:
        _tell(reviewed)


def _tell(reviewed: Reviewed) -> None:
    for checked in reviewed.pictures:
        _tell_of(checked)
    typer.echo(_counted(reviewed.pictures))
    for group in reviewed.without:
        named = session_attempts.names(group.pictures, _MOST_NAMED)
        typer.echo(plain(f"{group.words}: {named}" if named else group.words))
    typer.echo(_("report: {file}", file=reviewed.page))


def _tell_of(p: CheckedPicture) -> None:
    name, verdict = Path(p.file).name, told(p.verdict)
    if p.rank:
        line = _(
            "{file}: {verdict} ({rank} of {of} in its burst). {why}",
            file=name,
            verdict=verdict,
            rank=p.rank,
            of=p.of,
            why=told(p.why),
        )
    else:
        line = _("{file}: {verdict}. {why}", file=name, verdict=verdict, why=told(p.why))
    typer.echo(plain(line))
    if p.problem:
        typer.echo(plain(f"  {told(p.problem)}"))
    if p.change:
        typer.echo("  " + _("to change: {change}", change=told(p.change)))
    for note in p.notes:
        typer.echo(plain("  " + _("note: {note}", note=told(note))))


def _counted(pictures: list[CheckedPicture]) -> str:
    """How many of each verdict."""
    counts = Counter(p.verdict for p in pictures)
    each = ", ".join(f"{counts[v.value]} {told(v.value)}" for v in Sharpness if counts[v.value])
    acceptable = next((p for p in pictures if p.verdict == Sharpness.ACCEPTABLE.value), None)
    if acceptable is None or not acceptable.print_size:
        return each
    return _(
        "{counts} (the print: {size})", counts=each, size=terms.print_size(acceptable.print_size)
    )
