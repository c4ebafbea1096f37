"""Pictures that appear in a folder: which attempt each belongs to, and when it is there."""

import io
import threading
import time
from datetime import datetime, timedelta

import numpy as np
import pytest
from PIL import Image

from assist.base.errors import UserError
from assist.camera.background import BackgroundTrigger
from assist.camera.watched_folder import FolderTrigger
from assist.cli.options import trigger as trigger_options
from assist.guidance.countdown import TimerOptions
from assist.run.live import LiveOptions, LiveRun
from assist.session.folder import Session, read_record
from tests.assist.footage import SET_UP, NoisyCamera, PlacedDetector

NOTHING = np.zeros((4, 6, 3), np.uint8)
RAW = b"II*\0 a camera's own raw file, of which nobody here knows the inside"


def jpeg(exposed=None, shade=90):
    picture = Image.fromarray(
        np.random.default_rng(shade).integers(0, 255, (300, 400, 3), dtype=np.uint8)
    )
    tags = Image.Exif()
    if exposed is not None:
        tags.get_ifd(0x8769)[0x9003] = exposed.strftime("%Y:%m:%d %H:%M:%S")
    made = io.BytesIO()
    picture.save(made, "JPEG", quality=90, exif=tags)
    return made.getvalue()


@pytest.fixture
def places(tmp_path):
    for name in ("arriving", "session"):
        (tmp_path / name).mkdir()
    return tmp_path / "arriving", tmp_path / "session"


def later(seconds, do, *arguments):
    threading.Timer(seconds, do, arguments).start()


def fetched(trigger, attempt=1):
    return trigger.fetch(trigger.fire(NOTHING, attempt), attempt)


def test_the_file_that_appears_is_the_attempts_picture(places):
    arriving, session = places
    (arriving / "old.jpg").write_bytes(jpeg())
    trigger = FolderTrigger(arriving, session)
    later(0.3, (arriving / "new.JPG").write_bytes, jpeg(shade=1))
    fired = fetched(trigger)
    assert fired.problem == ""
    assert fired.picture == session / "picture-0001.jpg"
    assert fired.picture.read_bytes() == jpeg(shade=1)
    assert (arriving / "new.JPG").exists()  # the watched folder is never touched
    assert fired.on_card == "new.JPG"


def test_a_file_that_is_written_slowly_is_waited_for(places):
    """With pauses longer than a file is usually quiet for."""
    arriving, session = places
    trigger, content = FolderTrigger(arriving, session), jpeg()

    def write():
        with (arriving / "slow.jpg").open("wb", buffering=0) as file:
            for part in range(4):
                file.write(content[part * len(content) // 4 : (part + 1) * len(content) // 4])
                time.sleep(0.9)

    thread = threading.Thread(target=write)
    thread.start()
    assert fetched(trigger).picture.read_bytes() == content
    thread.join()


def test_names_on_the_way_are_no_pictures(places):
    """Copied under another name or hidden, then renamed into place."""
    arriving, session = places
    trigger = FolderTrigger(arriving, session)
    for name in ("one.jpg.part", "one.tmp", ".one.jpg", "notes.txt"):
        (arriving / name).write_bytes(jpeg())
    later(1.0, (arriving / "one.tmp").rename, arriving / "one.jpg")
    assert fetched(trigger).on_card == "one.jpg"


def test_raw_and_jpeg_of_one_name_are_one_picture(places):
    arriving, session = places
    for name in ("old.cr2", "old.jpg"):  # here they come in pairs
        (arriving / name).write_bytes(jpeg())
    trigger = FolderTrigger(arriving, session)
    (arriving / "a.cr2").write_bytes(RAW)
    later(1.2, (arriving / "a.jpg").write_bytes, jpeg())
    fired = fetched(trigger)
    assert fired.picture.name == "picture-0001.jpg"
    assert [other.name for other in fired.others] == ["picture-0001.cr2"]
    assert fired.others[0].read_bytes() == RAW


def test_the_time_in_the_file_settles_which_attempt_it_is(places):
    """Out of order, from a camera whose clock is five hours off, beside one taken by hand."""
    arriving, session = places
    now = [1000.0]
    trigger = FolderTrigger(arriving, session, clock=lambda: now[0])
    began, off = datetime(2026, 5, 1, 12, 0, 0), timedelta(hours=5)

    def taken(name, second):
        (arriving / name).write_bytes(jpeg(began + off + timedelta(seconds=second)))

    def settle():
        for _ in range(3):
            now[0] += 1.0
            trigger._look()

    fired = trigger.fire(NOTHING, 1)
    taken("first.jpg", 0)
    settle()
    assert trigger.fetch(fired, 1).on_card == "first.jpg"
    now[0] = 1020.0
    two = trigger.fire(NOTHING, 2)
    now[0] = 1040.0
    three = trigger.fire(NOTHING, 3)
    taken("third.jpg", 40)
    taken("second.jpg", 21)
    taken("by-hand.jpg", 30)
    settle()
    assert trigger.fetch(three, 3).on_card == "third.jpg"
    assert trigger.fetch(two, 2).on_card == "second.jpg"
    assert sorted(p.name for p in session.iterdir()) == [
        "picture-0001.jpg", "picture-0002.jpg", "picture-0003.jpg"
    ]  # fmt: skip


def test_what_comes_while_nobody_waits_is_of_no_attempt(places):
    arriving, session = places
    trigger = FolderTrigger(arriving, session)
    (arriving / "by-hand.jpg").write_bytes(jpeg(shade=3))
    for _ in range(5):
        trigger.idle()
        time.sleep(0.3)
    later(0.3, (arriving / "mine.jpg").write_bytes, jpeg(shade=4))
    assert fetched(trigger).on_card == "mine.jpg"


def test_none_within_the_limit_is_told(places):
    trigger = FolderTrigger(*places, limit_s=0.5)
    fired = fetched(trigger)
    assert fired.failed
    assert f"no picture came into {places[0]}" in fired.problem


def test_a_damaged_file_is_taken_in_the_end_and_a_folder_that_goes_is_waited_for(places):
    arriving, session = places
    now = [0.0]
    trigger = FolderTrigger(arriving, session, clock=lambda: now[0])
    fired = trigger.fire(NOTHING, 1)
    (arriving / "broken.jpg").write_bytes(jpeg()[:3000])
    for at in (0.0, 1.0, 8.0):
        now[0] = at
        trigger._look()
    assert trigger.fetch(fired, 1).on_card == "broken.jpg"
    (arriving / "broken.jpg").unlink()
    arriving.rmdir()
    trigger.idle()
    arriving.mkdir()
    now[0] = 20.0
    fired = trigger.fire(NOTHING, 2)
    (arriving / "again.jpg").write_bytes(jpeg())
    for at in (20.0, 21.0, 22.0):
        now[0] = at
        trigger._look()
    assert trigger.fetch(fired, 2).on_card == "again.jpg"


def test_a_folder_that_is_none_or_the_sessions_own_is_refused(places, tmp_path):
    with pytest.raises(UserError, match="there is no such folder"):
        FolderTrigger(tmp_path / "gone", places[1])
    with pytest.raises(UserError, match="the session's own folder"):
        FolderTrigger(places[1], places[1])


def test_the_option_excludes_the_other_ways(places):
    for other in ({"trigger": "tether"}, {"on_fire": "true"}):
        given = trigger_options.TriggerOptions(pictures_from=places[0], **other)
        with pytest.raises(UserError, match=r"--pictures-from and .* exclude each other"):
            trigger_options.gather(given, timed=True)
    given = trigger_options.TriggerOptions(pictures_from=places[0])
    with pytest.raises(UserError, match="--pictures-from needs a timer"):
        trigger_options.gather(given, timed=False)
    made = trigger_options.gather(given, timed=True)(places[1])
    assert isinstance(made, FolderTrigger)
    assert made.limit_s == 60


def test_a_burst_waits_for_no_file_between_its_pictures(places):
    """Fired first, fetched after: the files come when the camera is done."""
    arriving, session = places
    background: BackgroundTrigger[int] = BackgroundTrigger(FolderTrigger(arriving, session))
    for shot in (1, 2, 3):
        background.fire(NOTHING, shot, shot, more=shot < 3)
        time.sleep(0.1)
    for shot in (1, 2, 3):
        (arriving / f"{shot}.jpg").write_bytes(jpeg(shade=shot))
        time.sleep(0.9)
    done = []
    while background.pending:
        done += background.poll(1.0)
    done += background.close(5.0)
    assert [each.ticket for each in done] == [1, 2, 3]
    assert [each.fired.on_card for each in done] == ["1.jpg", "2.jpg", "3.jpg"]


def test_a_live_run_records_the_picture_that_appears(places):
    arriving, session = places
    later(1.5, (arriving / "mine.jpg").write_bytes, jpeg())
    camera = NoisyCamera(lambda age_s, picture: picture if age_s < 5.0 else None)
    with Session(session, SET_UP) as kept:
        LiveRun(
            SET_UP, camera, PlacedDetector(lambda _: 4.1),
            LiveOptions(window=False, timer=TimerOptions(0.5)), session=kept,
            trigger=FolderTrigger(arriving, session),
        ).run()  # fmt: skip
    [attempt] = read_record(session)
    assert attempt.picture == "picture-0001.jpg"
    assert attempt.trigger == "folder"
    assert attempt.problem == ""
