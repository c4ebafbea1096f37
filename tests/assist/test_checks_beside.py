"""Pictures checked beside a run: the process, what it survives, and what its answers teach."""

from __future__ import annotations

import math
import time
from datetime import datetime, timezone

import cv2
import pytest
from skimage import data as pictures

from assist.base.system import here, processes
from assist.guidance.picture_news import TestPicture
from assist.review.beside import CheckBeside, CheckedBeside, Order
from assist.review.blur.edge_models import BOX_LENGTHS, DISC_DIAMETERS
from assist.review.checked import Cause, CheckedPicture
from assist.run.checking import PictureChecks, out_of_focus_px
from assist.run.three_pictures import PLACES, ThreePictures
from assist.session.folder import Attempt, Session
from optics.plane_of_focus import circles_of_confusion
from tests.assist.test_focus_plane import SET_UP, ZONE, Run, picture_blur, seen


def attempt(number, picture):
    return Attempt(
        attempt=number, taken_at=datetime.now(timezone.utc), feed="0", feed_time_s=1.0,
        verdict="not sure", distance_m=4.0, standard_deviation_m=0.1, p_in_focus=0.5,
        to_mark_m=0.0, guidance="", framing=None, trigger="command", picture=picture,
        set_up=SET_UP.model_dump(mode="json", exclude_none=True),
    )  # fmt: skip


def answers(checks, count, within_s=60.0):
    found, until_s = [], time.monotonic() + within_s
    while len(found) < count and time.monotonic() < until_s:
        found += checks.poll()
        time.sleep(0.05)
    return found


def test_pictures_are_checked_in_a_process_that_may_die(tmp_path):
    """scikit-image's portrait; a file that is none; and the process ended from outside."""
    portrait = cv2.cvtColor(pictures.astronaut(), cv2.COLOR_RGB2BGR)
    cv2.imwrite(str(tmp_path / "picture-0001.jpg"), cv2.resize(portrait, None, fx=3, fy=3))
    (tmp_path / "picture-0002.jpg").write_bytes(b"no picture")
    with CheckBeside(SET_UP, tmp_path) as checks:
        for number in (1, 2, 3):
            name = f"picture-{number:04d}.jpg"
            checks.check(Order(tmp_path / name, attempt(number, name)))
        first, second, third = answers(checks, 3)
        assert [first.attempt, second.attempt, third.attempt] == [1, 2, 3]
        assert first.checked.blur_px is not None
        assert first.checked.limit_px is not None
        assert second.checked.problem
        assert third.checked.problem  # there is no such file
        processes.end(here(), checks._process)
        checks.check(Order(tmp_path / "picture-0001.jpg", attempt(4, "picture-0001.jpg")))
        [again] = answers(checks, 1)
        assert again.checked.blur_px == pytest.approx(first.checked.blur_px)
        process = checks._process
    assert process.poll() is not None


def test_nothing_is_started_before_a_picture_is_due(tmp_path):
    with CheckBeside(SET_UP, tmp_path) as checks:
        assert checks._process is None
        assert checks.finish() == []


def checked(blur, *, cause=Cause.DEFOCUS, verdict="soft", smear_px=None):
    """A checked picture whose blur is so many circles of confusion."""
    limit_px = 4.8
    return CheckedPicture(
        file="a.jpg", verdict=verdict, cause=cause.value, blur_px=blur * limit_px,
        blur_sd_px=0.1 * blur * limit_px, limit_px=limit_px, smear_px=smear_px,
    )  # fmt: skip


class Answers:
    """Stands for the process: hands out what the test puts in."""

    def __init__(self):
        self.ready, self.given, self.ordered = 0, [], []

    def get_ready(self):
        self.ready += 1

    def check(self, order):
        self.ordered.append(order.attempt.attempt)

    def poll(self):
        given, self.given = self.given, []
        return given

    def finish(self):
        return self.poll()

    def close(self):
        pass


@pytest.fixture
def checks(tmp_path):
    run = Run()
    with Session(tmp_path / "session", SET_UP) as session:
        made = PictureChecks(SET_UP, session, run.assistant)
        made._checks = Answers()
        made.run = run
        yield made


def test_a_sharp_picture_is_told_and_teaches(checks):
    run = checks.run
    run.watch(seen(3.95), 2.0)
    checks.fired(1, run.time_s)
    checks.taken(attempt(1, "picture-0001.jpg"))
    assert checks._checks.ordered == [1]
    checks._checks.given = [CheckedBeside(1, checked(0.4, cause=Cause.NONE, verdict="sharp"))]
    news = checks.update(run.time_s)
    assert (news.attempt, news.shown, news.off_m) == (1, "sharp", None)
    assert run.assistant.plane.learned
    assert checks.update(run.time_s + 20.0) is None


def test_a_soft_one_tells_how_far_once_the_side_is_known(checks):
    run, plane_m = checks.run, ZONE.best_m * 1.03
    told = []
    for number, eyes_m in enumerate((3.80, 4.10), 1):
        run.watch(seen(eyes_m), 2.0)
        checks.fired(number, run.time_s)
        checks._checks.given = [CheckedBeside(number, checked(picture_blur(eyes_m, plane_m)))]
        told.append(checks.update(run.time_s))
    assert told[1].shown == "soft"
    assert told[1].off_m == pytest.approx(4.10 - plane_m, abs=0.03)


def test_somebody_who_walks_teaches_nothing(checks):
    run = checks.run
    for k in range(50):
        run.watch(seen(3.6 + k / 100), 1 / 25)
    checks.fired(1, run.time_s)
    checks._checks.given = [CheckedBeside(1, checked(0.5, verdict="sharp"))]
    assert checks.update(run.time_s).shown == "sharp"
    assert not run.assistant.plane.learned


def test_a_smear_leaves_open_what_is_focus_in_it():
    smear_px = 3.0 * BOX_LENGTHS / DISC_DIAMETERS
    blur_px, sd_px = out_of_focus_px(checked(1.0, smear_px=smear_px))
    across_px = math.sqrt(4.8**2 - 3.0**2)
    assert across_px < blur_px < 4.8
    assert sd_px >= (4.8 - across_px) / 2


def test_three_pictures_ask_for_places_and_find_the_plane(checks):
    run, started, ended = checks.run, [], []
    three = ThreePictures(ZONE, run.assistant, started.append, lambda: ended.append(True))
    plane_m, place_m = ZONE.best_m * 1.02, ZONE.best_m
    run.watch(seen(place_m), 1.0)
    three.begin(run.time_s)
    answered, asked = 0, []
    while not ended and answered < 9:
        wanted = three.asked
        assert isinstance(wanted, TestPicture)
        asked.append(wanted)
        place_m = (ZONE.best_m if wanted.from_mark else place_m) + wanted.move_m
        run.watch(seen(place_m), 2.5)
        answered += 1
        checks.fired(answered, run.time_s)
        blur = max(picture_blur(place_m, plane_m), 0.3)
        checks._checks.given = [CheckedBeside(answered, checked(blur))]
        checks.update(run.time_s)
        three.update(run.time_s, answered)
    assert [one.number for one in asked] == [1, 2, 3]
    assert asked[0].move_m < 0 < asked[1].move_m
    assert asked[2].move_m < 0
    assert len(started) == len(PLACES)
    half = 1 / circles_of_confusion(ZONE)
    found_m = run.assistant.plane.belief.ratio * ZONE.best_m * 1.03  # the body is larger than told
    assert found_m == pytest.approx(plane_m, rel=half / 3)


def test_a_picture_that_tells_nothing_is_asked_for_again(checks):
    run, started = checks.run, []
    three = ThreePictures(ZONE, run.assistant, started.append, lambda: None)
    run.watch(seen(3.9), 1.0)
    three.begin(run.time_s)
    three.update(run.time_s, 1)
    assert three.asked.number == 1
    assert len(started) == 2
