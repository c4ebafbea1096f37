"""A review from the pictures' files to the report: checked, held against the record, written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from assist.base.errors import UserError
from assist.base.files import free_name, printable, write_whole
from assist.base.words import _
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.review import batch, export, report, session_attempts
from assist.review.checked import CheckedPicture
from assist.review.examiner import Examined
from assist.review.feed_pictures import FeedPictures
from assist.review.tags import PictureTags
from assist.review.taking_lens import DEFAULT_PRINT, print_text, taken_with
from assist.session import folder as sessions
from assist.session.folder import Attempt
from assist.setup import set_up as set_ups
from assist.setup.set_up import SetUp

REPORT_FILE = "review.html"
USUAL_PRINT = DEFAULT_PRINT.removeprefix("print ")

Progress = Callable[[Iterable[Examined]], Iterable[Examined]]
"""Hands on the pictures as they are checked, and may say how far the review is."""


@dataclass(frozen=True)
class ReviewRequest:
    """Which pictures are to be reviewed, and by what.

    set_up_file: a set-up's file; the session's if None.   session: the folder whose set-up and
    record the pictures belong to, None for none.   output: where the report goes; a new folder
    beside the session's files, or here, if None.   criterion: what counts as sharp, over the
    set-up's.   print_size: the print that a picture should at least do for.   workers: how many
    pictures at once; what pays if None.   pose_model: a pose landmarker bundle.
    """

    pictures: Sequence[Path]
    set_up_file: Path | None = None
    session: Path | None = None
    output: Path | None = None
    criterion: str | None = None
    print_size: str = USUAL_PRINT
    workers: int | None = None
    pose_model: Path | None = None


@dataclass(frozen=True)
class Reviewed:
    """What came of it.

    page: the report.   without: pictures that belong to no attempt of the session, and why.
    """

    page: Path
    pictures: list[CheckedPicture]
    without: Sequence[session_attempts.Without]

    def as_json(self) -> str:
        """The pictures for programs."""
        return export.pictures_json(self.pictures).decode()


def review(request: ReviewRequest, progress: Progress = lambda checked: checked) -> Reviewed:
    """Check the pictures, and write report, CSV and JSON. The pictures are only read.

    Raises UserError when the session or the set-up cannot be read, when criterion or print cannot
    be meant, and when nothing can be written. An interrupt (KeyboardInterrupt) ends it without a
    report.
    """
    set_up, record = _context(request)
    feed = None if request.session is None else FeedPictures(record, request.session)
    try:
        wanted_print = print_text(request.print_size)
        taken_with(PictureTags(), 6000, 4000, set_up, request.criterion, wanted_print)
    except ValueError as error:
        raise UserError(
            _("{option}: {error}", option="--criterion or --print", error=error)
        ) from error
    folder = _folder(request)
    store = batch.PictureStore(folder)
    examined = batch.examine_all(
        list(request.pictures),
        lambda: MediaPipePoseDetector(request.pose_model, stills=True),
        set_up,
        criterion=request.criterion,
        print_size=wanted_print,
        workers=request.workers or batch.default_workers(len(request.pictures)),
        feed=feed,
    )
    checked = [store.keep(one) for one in progress(examined)]
    finished, found = batch.finish(checked, record)
    page = folder / REPORT_FILE
    name = None if request.session is None else printable(request.session.resolve().name)
    without = (
        [] if name is None else session_attempts.without_attempt(finished, record, found, name)
    )
    write_whole(page, report.page_of(finished, found, name, without))
    write_whole(folder / "review.csv", export.pictures_csv(finished))
    write_whole(folder / "review.json", export.pictures_json(finished))
    return Reviewed(page, finished, without)


def _context(request: ReviewRequest) -> tuple[SetUp | None, list[Attempt]]:
    """The set-up and the record that the pictures belong to, as far as there are any."""
    session = request.session
    if session is not None and not session.is_dir():
        raise UserError(_("session folder {folder} does not exist", folder=session))
    record = [] if session is None else sessions.read_record(session)
    if request.set_up_file is not None:
        return set_ups.load(request.set_up_file), record
    if session is not None and (session / sessions.SET_UP_FILE).exists():
        return set_ups.load(session / sessions.SET_UP_FILE), record
    return None, record


def _folder(request: ReviewRequest) -> Path:
    """The folder of the report, made if need be."""
    folder = request.output
    if folder is None:
        base = request.session or Path()
        folder = free_name(base / "review", REPORT_FILE)
        if folder.is_symlink():
            raise UserError(
                _(
                    "{folder} is a link to elsewhere: name the folder to write in, --output",
                    folder=folder,
                )
            )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(
            _("cannot make folder {folder}: {why}", folder=folder, why=error.strerror)
        ) from error
    return folder
