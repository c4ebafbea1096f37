"""A review of many pictures: in order, on several threads, with memory that does not grow."""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import cv2

from assist.base.files import write_whole
from assist.base.images import ColourImage
from assist.camera.frame import NAME as FEED_TRIGGER
from assist.pose import PoseDetector
from assist.review import bursts, matching, session_attempts
from assist.review.checked import CheckedPicture
from assist.review.examiner import Examined, Examiner
from assist.review.feed_pictures import FeedPictures, softened
from assist.session.folder import Attempt
from assist.setup.set_up import SetUp

DetectorMaker = Callable[[], PoseDetector]
_QUALITY = 88


def default_workers(pictures: int) -> int:
    """Threads that pay: no more than processors, four or pictures."""
    return max(1, min(os.cpu_count() or 1, 4, pictures))


def examine_all(
    paths: list[Path],
    make_detector: DetectorMaker,
    set_up: SetUp | None,
    *,
    criterion: str | None = None,
    print_size: str,
    workers: int,
    feed: FeedPictures | None = None,
) -> Iterator[Examined]:
    """Check pictures in order; each worker has a pose network of its own.

    At most two pictures a worker are under way or waiting, so a slow reader holds the rest up and
    memory stays the same however many pictures there are.
    """
    own = threading.local()
    lock = threading.Lock()
    with ExitStack() as networks:

        def examine(path: Path) -> Examined:
            if not hasattr(own, "examiner"):
                with lock:  # the native library's start-up is quietened for the whole process
                    detector = make_detector()
                    networks.callback(detector.close)
                own.examiner = Examiner(
                    detector, set_up, criterion=criterion, print_size=print_size, feed=feed
                )
            result: Examined = own.examiner.examine(path)
            return result

        pool = ThreadPoolExecutor(workers, thread_name_prefix="review")
        try:
            waiting: deque[Future[Examined]] = deque()
            for path in paths:
                waiting.append(pool.submit(examine, path))
                if len(waiting) >= 2 * workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            # Here, not on the stack: the pool itself puts networks there, which must be idle when
            # they are closed.
            pool.shutdown(wait=True, cancel_futures=True)


class PictureStore:
    """Writes the small pictures of a report as they come; keeps only their names."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._number = 0

    def keep(self, examined: Examined) -> CheckedPicture:
        """The checked picture with the names of the files written for it."""
        self._number += 1
        names = {}
        for what, image in (
            ("thumbnail", examined.thumbnail),
            ("eyes_crop", examined.eyes_crop),
        ):
            if image is not None:
                name = f"{what.replace('_', '-')}-{self._number:04d}.jpg"
                write_whole(self._folder / name, _jpeg(image))
                names[what] = name
        return examined.checked.model_copy(update=names)


def _jpeg(image: ColourImage) -> bytes:
    _, content = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    return content.tobytes()


def with_record(
    pictures: list[CheckedPicture], record: list[Attempt]
) -> tuple[list[CheckedPicture], matching.Match | None]:
    """Pictures with the attempt each belongs to: by name where the record has it, or by time."""
    by_name = {Path(a.picture).name: a for a in record if a.picture}
    by_number = {a.attempt: a for a in record}
    times = [(a.attempt, a.taken_at) for a in record]
    found = matching.match([p.taken_at for p in pictures], times)
    result = []
    for index, picture in enumerate(pictures):
        attempt = by_name.get(Path(picture.file).name)
        of_the_feed = attempt is not None and attempt.trigger == FEED_TRIGGER
        if attempt is None and found is not None:
            number = found.attempts[index]
            attempt = None if number is None else by_number[number]
        if attempt is None:
            result.append(picture)
            continue
        result.append(
            (softened(picture) if of_the_feed else picture).model_copy(
                update={
                    "attempt": attempt.attempt,
                    "clock_offset_s": None if found is None else found.offset_s,
                    "live_distance_m": attempt.distance_m,
                    "live_distance_sd_m": attempt.standard_deviation_m,
                    "live_verdict": attempt.verdict,
                    "notes": picture.notes + session_attempts.contradiction(picture, attempt),
                }
            )
        )
    return result, found


def finish(
    pictures: list[CheckedPicture], record: list[Attempt]
) -> tuple[list[CheckedPicture], matching.Match | None]:
    """Matched with the record and ranked."""
    matched, found = with_record(pictures, record)
    return bursts.rank(matched), found
