"""`assist review`."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import track

from assist.base.errors import UserError
from assist.base.files import plain, printable, write_whole
from assist.cli.examples import examples
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.review import of_session, picture, report, run, tables
from assist.review.checked import CheckedPicture, Sharpness
from assist.review.of_feed import FeedPictures
from assist.review.optics_of import DEFAULT_PRINT, print_text, taken_with
from assist.review.tags import PictureTags
from assist.session import folder as sessions
from assist.session.folder import Attempt
from assist.setup import set_up as set_ups
from assist.setup.set_up import SetUp

REPORT_FILE = "review.html"
_MOST_NAMED = 10


EXAMPLES = examples(
    "assist review cards/*.jpg --session saturday",
    "assist review saturday --set-up set-up.toml --output checked --print '30cm from 50cm'",
    "assist review pictures --json",
)


def review(
    pictures: Annotated[
        list[Path],
        typer.Argument(help="Picture files (JPEG, PNG, TIFF, raw) or folders of them."),
    ],
    set_up: Annotated[
        Path | None, typer.Option("--set-up", metavar="FILE", help="Set-up file (TOML).")
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--session",
            metavar="FOLDER",
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
    ] = DEFAULT_PRINT.removeprefix("print "),
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, max=32, help="Pictures worked on at once.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
    pose_model: Annotated[
        Path | None, typer.Option("--pose-model", metavar="FILE", help="A pose landmarker bundle.")
    ] = None,
) -> None:
    """Check the pictures themselves: are the eyes sharp, and if not, why and what to change.

    Writes a report with thumbnails, the eyes at 100 % and where you stood in the zone, and the same
    as CSV and JSON. The pictures are only read, and stay on this machine.
    """
    paths = picture.find(pictures)
    chosen, record = _context(set_up, keep)
    feed = None if keep is None else FeedPictures(record, keep)
    try:
        wanted_print = print_text(print_size)
        taken_with(PictureTags(), 6000, 4000, chosen, criterion, wanted_print)
    except ValueError as error:
        raise UserError(f"--criterion or --print: {error}") from error
    folder = output or _free_folder(keep / "review" if keep is not None else Path("review"))
    if output is None and folder.is_symlink():
        raise UserError(f"{folder} is a link to elsewhere: name the folder to write in, --output")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"cannot make folder {folder}: {error.strerror}") from error
    store = run.PictureStore(folder)
    threads = workers or run.default_workers(len(paths))
    checked = [
        store.keep(examined)
        for examined in track(
            run.examine_all(
                paths,
                lambda: MediaPipePoseDetector(pose_model, stills=True),
                chosen,
                criterion=criterion,
                print_size=wanted_print,
                workers=threads,
                feed=feed,
            ),
            "checking",
            total=len(paths),
            console=Console(stderr=True),
            transient=True,
            disable=not sys.stderr.isatty(),
        )
    ]
    finished, found = run.finish(checked, record)
    page = folder / REPORT_FILE
    name = printable(keep.resolve().name) if keep is not None else None
    without = [] if name is None else of_session.without_attempt(finished, record, found, name)
    write_whole(page, report.page_of(finished, found, name, without))
    write_whole(folder / "review.csv", tables.pictures_csv(finished))
    write_whole(folder / "review.json", tables.pictures_json(finished))
    if as_json:
        typer.echo(tables.pictures_json(finished).decode(), nl=False)
    else:
        _tell(finished)
        for group in without:
            named = of_session.names(group.pictures, _MOST_NAMED)
            typer.echo(plain(f"{group.words}: {named}" if named else group.words))
        typer.echo(f"report: {page}")


def _context(set_up: Path | None, keep: Path | None) -> tuple[SetUp | None, list[Attempt]]:
    if keep is not None and not keep.is_dir():
        raise UserError(f"session folder {keep} does not exist")
    record = sessions.read_record(keep) if keep is not None else []
    if set_up is not None:
        return set_ups.load(set_up), record
    if keep is not None and (keep / sessions.SET_UP_FILE).exists():
        return set_ups.load(keep / sessions.SET_UP_FILE), record
    return None, record


def _free_folder(wish: Path) -> Path:
    """The folder itself, or the first numbered one beside it that holds no report yet."""
    folder, number = wish, 1
    while (folder / REPORT_FILE).exists():
        number += 1
        folder = wish.with_name(f"{wish.name}-{number}")
    return folder


def _tell(pictures: list[CheckedPicture]) -> None:
    for p in pictures:
        place = f" ({p.rank} of {p.of} in its burst)" if p.rank else ""
        typer.echo(plain(f"{Path(p.file).name}: {p.verdict}{place}. {p.why}"))
        if p.problem:
            typer.echo(plain(f"  {p.problem}"))
        if p.change:
            typer.echo(f"  to change: {p.change}")
        for note in p.notes:
            typer.echo(plain(f"  note: {note}"))
    counts = Counter(p.verdict for p in pictures)
    told = [f"{counts[v.value]} {v.value}" for v in Sharpness if counts[v.value]]
    acceptable = next((p for p in pictures if p.verdict == Sharpness.ACCEPTABLE.value), None)
    size = f" (the print: {acceptable.print_size})" if acceptable and acceptable.print_size else ""
    typer.echo(", ".join(told) + size)
