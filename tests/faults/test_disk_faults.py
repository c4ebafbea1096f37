"""Faults of disk and folder, caused for real: pictures and records are never lost."""

import contextlib
import errno
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
import pytest

from assist.base import rescue
from assist.base.errors import UserError
from assist.base.trouble import Notices, Trouble, of_writing
from assist.base.words import Words
from assist.camera.frame import FrameTrigger
from assist.camera.tether import TetherTrigger
from assist.camera.trigger import Fired
from assist.guidance.countdown import TimerOptions
from assist.output import video as video_output
from assist.output.video import VideoOutput
from assist.run import taking
from assist.run.live import LiveOptions, LiveRun
from assist.run.taking import PictureTaking, Taken
from assist.session import folder as sessions
from assist.session.folder import Session, read_record
from tests.assist.footage import SET_UP, BlankSource, NoisyCamera, PlacedDetector
from tests.assist.test_session import attempt
from tests.assist.test_trigger import binding
from tests.faults.watching import HOLD, LIMIT_S, Watch

ENGLISH = Words()
PICTURE = np.random.default_rng(5).integers(0, 255, (360, 640, 3), np.uint8)
posix = pytest.mark.skipif(os.name == "nt", reason="limits and permissions of POSIX")


@pytest.fixture
def elsewhere(tmp_path, monkeypatch):
    """The user's data folder and that for temporary files, inside the test's own."""
    folder = tmp_path / "elsewhere"
    monkeypatch.setattr(rescue.platformdirs, "user_data_path", lambda _: folder / "data")
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return folder


class Nobody:
    """A context in which root is an ordinary user, whom permissions hold back."""

    def __enter__(self):
        self._root = os.geteuid() == 0
        if self._root:
            os.seteuid(65534)

    def __exit__(self, *_):
        if self._root:
            os.seteuid(0)


@pytest.fixture
def open_folder():
    """A folder that anybody may use, as those of the test runner are not."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o777)
    yield folder
    for path in (folder, *folder.rglob("*")):
        if path.is_dir():
            path.chmod(0o777)
    shutil.rmtree(folder)


@pytest.fixture
def small_disk(tmp_path):
    """A file system of one megabyte."""
    if shutil.which("mount") is None:
        pytest.skip("no file system can be mounted here")
    folder = tmp_path / "disk"
    folder.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", folder], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("no file system can be mounted here")
    yield folder
    subprocess.run(["umount", folder], check=True)


class Ear:
    def __init__(self, at=lambda time_s: None):
        self.heard, self._at = [], at

    def hear(self, message):
        self.heard.append(message)
        self._at(message.moment.frame.time_s)

    def close(self):
        pass

    @property
    def troubles(self):
        """All that was shown, in the order in which it was shown first."""
        return "\n".join(dict.fromkeys("\n".join(m.troubles) for m in self.heard))


def run(session, ear, seconds=2.0, output=None, **timer):
    chosen = LiveOptions(window=False, timer=TimerOptions(1.0, **timer), output=output)
    return LiveRun(
        SET_UP, BlankSource(seconds), PlacedDetector(lambda _: 4.1), chosen,
        session=session, trigger=FrameTrigger(session.folder), listener=ear,
    ).run()  # fmt: skip


def fill(folder):
    """Leave no room."""
    with (folder / "ballast").open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))


# -- disk full -----------------------------------------------------------------------------------


def test_disk_full_when_the_picture_is_taken(small_disk, elsewhere):
    with Session(small_disk / "session", SET_UP) as session:
        fill(small_disk)
        ear = Ear()
        outcome = run(session, ear)
    # Seen and heard, and the run went on.
    assert "the picture was kept in another folder" in ear.troubles
    assert "the disk is full" in ear.troubles
    assert outcome.pictures == 60
    # The picture and its line are elsewhere, whole, and the outcome says where.
    [taken] = outcome.attempts
    assert "No space left" in taken.problem
    assert cv2.imread(taken.picture).shape == (360, 640, 3)
    kept = read_record(outcome.record_kept.parent)
    assert [a.picture for a in kept] == [taken.picture]
    assert Path(taken.picture).is_relative_to(elsewhere)


def test_disk_full_and_room_made_while_the_run_goes_on(small_disk, elsewhere):
    with Session(small_disk / "session", SET_UP) as session:
        fill(small_disk)

        def make_room(time_s):
            if time_s > 1.5:
                (small_disk / "ballast").unlink(missing_ok=True)

        outcome = run(session, Ear(make_room))
        assert outcome.record_kept is None
    assert [a.attempt for a in read_record(session.folder)] == [1]


def test_disk_full_at_the_start_is_one_line(small_disk):
    fill(small_disk)
    with pytest.raises(UserError, match="No space left"):
        Session(small_disk / "session", SET_UP)


def test_no_place_at_all_takes_the_picture_until_the_end_of_the_run(tmp_path, monkeypatch):
    nowhere = tmp_path / "nowhere"
    nowhere.write_text("a file where folders should be")
    monkeypatch.setattr(rescue.platformdirs, "user_data_path", lambda _: nowhere)
    monkeypatch.setattr(tempfile, "tempdir", str(nowhere))
    trigger = FrameTrigger(nowhere / "session")
    fired = trigger.fire(PICTURE, 1)
    assert fired.failed
    assert fired.trouble is Trouble.FOLDER_GONE
    nowhere.unlink()
    trigger.close()
    assert np.array_equal(cv2.imread(str(nowhere / "session" / "picture-0001.png")), PICTURE)


def taken(trigger, attempt):
    """Fired, and its files fetched, as a run does when nothing else is to be fired."""
    fired = trigger.fire(PICTURE, attempt)
    return trigger.fetch(fired, attempt) if fired.to_fetch else fired


def test_a_tethered_cameras_picture_goes_elsewhere_or_into_the_folder_made_again(
    tmp_path, elsewhere
):
    folder = tmp_path / "session"
    folder.write_text("a file where the folder should be")
    trigger = TetherTrigger(folder, binding=binding())
    fired = taken(trigger, 1)
    assert (fired.trouble, fired.failed) == (Trouble.ELSEWHERE, False)
    assert fired.picture.is_relative_to(elsewhere)
    assert fired.picture.read_bytes() == b"/card/A.JPG"
    folder.unlink()
    fired = taken(trigger, 2)
    assert (fired.problem, fired.picture) == ("", folder / "picture-0002.jpg")


def test_a_tethered_cameras_picture_that_nothing_takes_is_on_the_card(tmp_path, monkeypatch):
    nowhere = tmp_path / "nowhere"
    nowhere.write_text("a file where folders should be")
    monkeypatch.setattr(rescue.platformdirs, "user_data_path", lambda _: nowhere)
    monkeypatch.setattr(tempfile, "tempdir", str(nowhere))
    fired = taken(TetherTrigger(nowhere / "session", binding=binding()), 1)
    assert (fired.picture, fired.on_card) == (None, "/card/A.JPG")
    assert fired.trouble is Trouble.NOT_FETCHED
    assert "taken, but not stored" in fired.problem


@posix
def test_half_a_line_is_taken_back_when_the_disk_fills_in_the_middle_of_it(tmp_path):
    """A limit on file sizes cuts a write short as a full disk does, on any machine."""
    resource = pytest.importorskip("resource")
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            with Session(tmp_path, SET_UP) as session:
                session.append(attempt(1))
                size = (tmp_path / sessions.RECORD_FILE).stat().st_size
                _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
                resource.setrlimit(resource.RLIMIT_FSIZE, (size + 100, hard))
                for number in (2, 3):
                    with contextlib.suppress(OSError):
                        session.append(attempt(number))
                        code = 3
                whole = (tmp_path / sessions.RECORD_FILE).stat().st_size == size
                resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
                session.append(attempt(4))
                code = 0 if whole and code != 3 else 2
        finally:
            os._exit(code)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    assert [a.attempt for a in read_record(tmp_path)] == [1, 2, 3, 4]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_known_as_one():
    with pytest.raises(OSError, match="No space left") as caught:
        sessions.journal.add(Path("/dev/full"), b"a line\n")
    assert of_writing(caught.value) is Trouble.DISK_FULL


def test_a_picture_whose_line_was_lost_is_not_written_over(tmp_path):
    with Session(tmp_path, SET_UP) as session:
        run(session, Ear())
    first = (tmp_path / "picture-0001.png").read_bytes()
    (tmp_path / sessions.RECORD_FILE).unlink()
    with Session(tmp_path, SET_UP) as session:
        assert session.next_attempt == 2
        fired = FrameTrigger(tmp_path).fire(PICTURE, 1)
    assert fired.picture.name == "picture-0001-2.png"
    assert (tmp_path / "picture-0001.png").read_bytes() == first


# -- the folder ----------------------------------------------------------------------------------


@posix
def test_folder_that_cannot_be_written_to_is_told_at_the_start(open_folder):
    open_folder.chmod(0o555)
    with Nobody(), pytest.raises(UserError, match="cannot be written to: Permission denied"):
        Session(open_folder, SET_UP)


@posix
def test_folder_that_becomes_read_only_while_the_run_goes_on(open_folder, monkeypatch):
    monkeypatch.setattr(rescue.platformdirs, "user_data_path", lambda _: open_folder / "data")
    folder = open_folder / "session"
    ear = Ear()
    with Nobody(), Session(folder, SET_UP) as session:
        folder.chmod(0o555)
        outcome = run(session, ear)
    assert outcome.pictures == 60
    assert "the picture was kept in another folder" in ear.troubles
    assert "the folder cannot be written to" in ear.troubles
    [taken] = outcome.attempts
    assert cv2.imread(taken.picture) is not None
    assert [a.picture for a in read_record(outcome.record_kept.parent)] == [taken.picture]


def test_session_folder_deleted_is_told_within_two_seconds_and_there_again(tmp_path):
    folder = tmp_path / "session"
    spoken = "The folder was deleted. It is there again."
    watch = Watch(
        HOLD,
        lambda w: w.said(spoken, 1) < LIMIT_S,
        at={1: lambda: shutil.rmtree(folder)},
    )
    with Session(folder, SET_UP) as session:
        watch.run(NoisyCamera(), session=session, trigger=FrameTrigger(folder))
    assert watch.said(spoken, 1) < 2.0 + watch.slack_s
    shown = "the folder was deleted and is made again"
    assert shown in {t for _, m, _ in watch.in_phase(1) for t in m.troubles}
    assert (folder / sessions.SET_UP_FILE).is_file()


def test_session_folder_deleted_while_the_run_goes_on(tmp_path, elsewhere):
    folder = tmp_path / "kept" / "session"
    with Session(folder, SET_UP) as session:
        deleted = []

        def delete(time_s):
            if time_s > 1.8 and not deleted:
                deleted.append(read_record(folder))
                shutil.rmtree(folder.parent)

        outcome = run(session, Ear(delete), seconds=4.0, burst=2, burst_interval_s=1.5)
        # It is there again and held against other runs, with the set-up and all that is known.
        assert [a.attempt for a in deleted[0]] == [1]
        assert [a.attempt for a in read_record(folder)] == [1, 2]
        assert (folder / "picture-0002.png").is_file()
        assert (folder / sessions.SET_UP_FILE).is_file()
        assert outcome.record_kept is None
        assert other_run(folder).returncode == 2


def test_a_folder_that_goes_twice_is_told_of_twice(monkeypatch):
    class Folder:
        next_attempt = 1
        answers = iter([OSError(errno.EROFS, ""), OSError(errno.EROFS, ""), True, False,
                        OSError(errno.ENOENT, ""), OSError(errno.ENOENT, "")])  # fmt: skip

        def look_after(self):
            answer = next(self.answers)
            if isinstance(answer, OSError):
                raise answer
            return answer

    notices = Notices()
    monkeypatch.setattr(taking, "_LOOK_EVERY_S", 0.0)
    picture = PictureTaking(SET_UP, "", Folder(), None, Taken(), notices, waits=False)
    for _ in range(6):
        picture.look_after_session()
    told = [notice.trouble for notice in notices.take()]
    assert told == [Trouble.READ_ONLY, Trouble.FOLDER_AGAIN, Trouble.FOLDER_GONE]


def other_run(folder):
    """Another process that wants the session."""
    from assist.run import demo

    clip, set_up = (demo.sample_folder() / name for name in (demo.CLIP, demo.SET_UP))
    return subprocess.run(
        [sys.executable, "-c", "from assist.cli import main; main()", "live", clip, "--set-up",
         set_up, "--no-window", "--timer", "1s", "--session", folder],
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_two_runs_on_one_folder(tmp_path):
    """The second is told so in one line and touches nothing; see also `test_session`."""
    with Session(tmp_path, SET_UP) as session:
        session.append(attempt(1))
        before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
        other = other_run(tmp_path)
        assert other.returncode == 2
        assert "is in use by another run" in other.stderr
        assert other.stderr.count("\n") == 1
        assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_a_record_that_cannot_be_written_is_told_and_kept(tmp_path, elsewhere, monkeypatch):
    def full(path, content):
        raise OSError(28, "No space left on device")

    ear = Ear()
    with Session(tmp_path / "session", SET_UP) as session:
        monkeypatch.setattr(sessions.journal, "add", full)
        outcome = run(session, ear)
    assert "the disk is full" in ear.troubles
    assert "the record could not be written" in outcome.attempts[0].problem
    assert [a.attempt for a in read_record(outcome.record_kept.parent)] == [1]


# -- the video -----------------------------------------------------------------------------------


def test_the_video_ends_while_it_can_still_be_finished(tmp_path, monkeypatch):
    room = [10**9]
    monkeypatch.setattr(video_output, "_free_bytes", lambda _: room[0])
    monkeypatch.setattr(video_output, "_LOOK_EVERY", 5)
    ear = Ear(lambda time_s: room.__setitem__(0, 10**9 if time_s < 2.0 else 10**6))
    with Session(tmp_path / "session", SET_UP) as session:
        outcome = run(session, ear, seconds=5.0, output=tmp_path / "out.mp4")
    assert outcome.pictures == 150
    assert "the video has ended: it cannot be written" in ear.troubles
    assert outcome.problems == ["the video ended before the run: the disk is full"]
    count = cv2.VideoCapture(str(tmp_path / "out.mp4")).get(cv2.CAP_PROP_FRAME_COUNT)
    assert 50 < count < 90
    assert len(read_record(tmp_path / "session")) == 1


def test_a_video_on_a_full_disk_is_never_called_one(small_disk, monkeypatch):
    monkeypatch.setattr(video_output, "_LEAST_FREE_BYTES", 0)
    video = VideoOutput(small_disk / "out.mp4", (640, 360), 25.0)
    chance = np.random.default_rng(6)
    for n in range(40):
        video.write(chance.integers(0, 255, (360, 640, 3), np.uint8), n / 25)
    with pytest.raises(UserError, match=r"out\.mp4"):
        video.close()
    assert list(small_disk.iterdir()) == []


def test_a_video_is_refused_where_there_is_no_room_for_one(small_disk):
    with pytest.raises(UserError, match="MB are free"):
        VideoOutput(small_disk / "out.mp4", (640, 360), 25.0)


def test_a_disk_that_hangs_holds_up_neither_the_run_nor_its_end(tmp_path, monkeypatch):
    monkeypatch.setattr(video_output, "_STUCK_S", 0.3)
    monkeypatch.setattr(video_output, "_FINISH_S", 0.3)
    video = VideoOutput(tmp_path / "out.mp4", (64, 48), 25.0, hurried=True)
    import threading

    hang = threading.Event()

    class Hanging:
        def write(self, _):
            hang.wait(30)

        def release(self):
            pass

    video._writer.release()
    video._writer = Hanging()
    canvas = np.zeros((48, 64, 3), np.uint8)
    for n in range(60):
        video.write(canvas, n / 25)
    assert video.trouble == "the disk does not answer"
    with pytest.raises(UserError, match="does not answer"):
        video.close()
    # It has been waited for once.
    monkeypatch.setattr(video_output, "_FINISH_S", 25.0)
    began_s = time.monotonic()
    video.abandon()
    assert time.monotonic() - began_s < 15
    hang.set()


def test_every_failure_to_write_has_its_name():
    assert of_writing(OSError(28, "")) is Trouble.DISK_FULL
    assert of_writing(OSError(30, "")) is Trouble.READ_ONLY
    assert of_writing(OSError(13, "")) is Trouble.READ_ONLY
    assert of_writing(OSError(2, "")) is Trouble.FOLDER_GONE
    assert of_writing(OSError(5, "")) is Trouble.NOT_WRITTEN
    assert not Fired("frame", Path("kept"), "elsewhere").failed
