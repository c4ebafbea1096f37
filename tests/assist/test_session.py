import json
import os
import shutil
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assist.base import journal
from assist.base.errors import UserError
from assist.session import folder as sessions
from assist.session.folder import Attempt, Session, read_record
from assist.setup import set_up

SET_UP = set_up.from_values({"lens": {"focal_length_mm": 35, "f_number": 2, "focus_distance_m": 4}})


def attempt(number):
    return Attempt(
        attempt=number, taken_at=sessions.now(), feed="walk.mp4", feed_time_s=12.0,
        verdict="in focus", distance_m=4.05, standard_deviation_m=0.12, p_in_focus=0.99,
        to_mark_m=0.05, guidance="hold still", framing="full body", cut=(), trigger="frame",
        picture=f"picture-{number:04d}.png", set_up=SET_UP.model_dump(mode="json"),
    )  # fmt: skip


def test_round_trip_and_numbering(tmp_path):
    with Session(tmp_path / "one", SET_UP) as session:
        session.append(attempt(1))
        session.append(attempt(2))
    with Session(tmp_path / "one", SET_UP) as again:
        assert again.next_attempt == 3
    assert [a.attempt for a in read_record(tmp_path / "one")] == [1, 2]
    assert read_record(tmp_path / "one")[0].distance_m == 4.05
    assert set_up.load(tmp_path / "one" / sessions.SET_UP_FILE) == SET_UP


def test_lines_are_json(tmp_path):
    with Session(tmp_path, SET_UP) as session:
        session.append(attempt(1))
    line = json.loads((tmp_path / sessions.RECORD_FILE).read_text())
    assert line["set_up"]["lens"]["focal_length_mm"] == 35.0
    taken_at = line["taken_at"]
    assert taken_at.endswith("Z") or taken_at[-6] in "+-"  # the offset from UTC is kept


def test_a_last_line_cut_short_by_a_power_failure_is_passed_over(tmp_path):
    with Session(tmp_path, SET_UP) as session:
        session.append(attempt(1))
    with (tmp_path / sessions.RECORD_FILE).open("a") as file:
        file.write('{"version": 1, "atte')
    assert len(read_record(tmp_path)) == 1


def test_damage_elsewhere_is_told(tmp_path):
    with Session(tmp_path, SET_UP) as session:
        session.append(attempt(1))
    path = tmp_path / sessions.RECORD_FILE
    path.write_text("rubbish\n" + path.read_text())
    with pytest.raises(UserError, match="line 1"):
        read_record(tmp_path)


def test_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(UserError, match="cannot make session folder"):
        Session(tmp_path / "file" / "session", SET_UP)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="forks")
def test_killed_at_random_points_two_hundred_times(tmp_path):
    """After each kill the next writer opens the folder and goes on; nothing told is lost.

    A process that is killed is not a power cut: what reached the operating system stays. That lines
    are also forced to the disk before they count is `test_a_line_is_on_the_disk_before_it_counts`.
    """
    folder = tmp_path / "session"
    out = subprocess.run(
        [sys.executable, "-m", "tests.assist.session_writer", folder, "200", "11"],
        capture_output=True, text=True, check=True, timeout=300,
    ).stdout  # fmt: skip
    told = [int(line) for line in out.split()]
    assert len(told) == 200
    record = read_record(folder)
    numbers = [a.attempt for a in record]
    assert numbers == list(range(1, len(numbers) + 1))  # no gap, no double, none cut short
    assert numbers[-1] >= max(told)
    assert all(len(a.feed) == 1000 for a in record)


def test_a_line_is_on_the_disk_before_it_counts(tmp_path, monkeypatch):
    synced = []
    with Session(tmp_path, SET_UP) as session:
        monkeypatch.setattr(journal.os, "fsync", lambda handle: synced.append(os.fstat(handle)))
        session.append(attempt(1))
    sizes = [s.st_size for s in synced]
    assert (tmp_path / sessions.RECORD_FILE).stat().st_size in sizes


@given(cut=st.integers(1, 700))
@settings(max_examples=60, deadline=None)
def test_wherever_the_last_line_was_cut_the_next_run_goes_on(tmp_path_factory, cut):
    folder = tmp_path_factory.mktemp("cut")
    with Session(folder, SET_UP) as session:
        session.append(attempt(1))
        session.append(attempt(2))
    path = folder / sessions.RECORD_FILE
    content = path.read_bytes()
    first = content.index(b"\n") + 1
    kept = max(first, len(content) - cut)
    path.write_bytes(content[:kept])
    with Session(folder, SET_UP) as session:
        session.append(attempt(session.next_attempt))
    numbers = [a.attempt for a in read_record(folder)]
    assert numbers in ([1, 2], [1, 2, 3])
    assert (numbers == [1, 2, 3]) == (kept >= len(content) - 1)
    if first < kept < len(content) - 1:
        torn = path.with_suffix(journal.TORN_SUFFIX)
        assert torn.read_bytes().strip() == content[first:kept].strip()


def test_a_whole_last_line_without_its_end_is_ended_and_nothing_is_added_for_no_lines(tmp_path):
    path = tmp_path / "scores.jsonl"
    path.write_bytes(b'{"a":1}')
    writer = journal.JournalWriter(path, bytes)
    assert path.read_bytes() == b'{"a":1}\n'
    writer.write()
    assert path.read_bytes() == b'{"a":1}\n'
    writer.hold("{}")
    writer.hold("[]")
    writer.write()
    assert path.read_bytes() == b'{"a":1}\n{}\n[]\n'


VERSION_1 = (
    '{"version":1,"attempt":4,"taken_at":"2026-03-01T10:00:00.250000+01:00","feed":"0",'
    '"feed_time_s":12.5,"verdict":"in focus","distance_m":3.02,"standard_deviation_m":0.11,'
    '"p_in_focus":0.95,"to_mark_m":0.02,"guidance":"hold still","framing":"knees-up",'
    '"cut":["feet"],"trigger":"frame","picture":"picture-0004.png","problem":"","set_up":{"version":1}}'
)


def test_a_record_of_version_1_is_read_and_gone_on_with(tmp_path):
    (tmp_path / sessions.RECORD_FILE).write_text(VERSION_1 + "\n")
    with Session(tmp_path, SET_UP) as session:
        assert session.next_attempt == 5
        session.append(attempt(5))
    old, new = read_record(tmp_path)
    assert (old.version, old.attempt, old.exit_code, old.on_card) == (2, 4, None, "")
    assert (old.distance_m, old.cut, old.picture) == (3.02, ("feet",), "picture-0004.png")
    assert new.attempt == 5
    first = (tmp_path / sessions.RECORD_FILE).read_text().splitlines()[0]
    assert first == VERSION_1  # what was written is never rewritten


def test_a_record_of_a_newer_program_is_refused_and_left_alone(tmp_path):
    text = VERSION_1.replace('"version":1,"attempt"', '"version":9,"attempt"') + "\n"
    (tmp_path / sessions.RECORD_FILE).write_text(text)
    with pytest.raises(UserError, match="version 9 is newer"):
        Session(tmp_path, SET_UP)
    assert (tmp_path / sessions.RECORD_FILE).read_text() == text


def test_two_runs_cannot_have_one_folder(tmp_path):
    with Session(tmp_path, SET_UP):
        code = (
            "import sys; from pathlib import Path; from tests.assist.test_session import SET_UP;"
            "from assist.session.folder import Session; Session(Path(sys.argv[1]), SET_UP)"
        )
        other = subprocess.run(
            [sys.executable, "-c", code, tmp_path], capture_output=True, text=True, check=False
        )
        assert other.returncode != 0
        assert "in use by another run" in other.stderr
        with pytest.raises(UserError, match="in use by another run"):
            Session(tmp_path, SET_UP)
    other = subprocess.run([sys.executable, "-c", code, tmp_path], check=False)
    assert other.returncode == 0


def other(lens=(), **parts):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    return set_up.from_values({**values, **parts, "lens": {**values["lens"], **dict(lens)}})


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (other({"focal_length_mm": 85}), "is one of 35 mm, and this run has 85 mm: "),
        (other({"f_number": 2.8}), "is one of f/2, and this run has f/2.8: "),
        (
            other({"f_number": 4, "focus_distance_m": 5}),
            "is one of f/2, focus at 4 m, and this run has f/4, focus at 5 m: ",
        ),
        (other(camera={"sensor": "aps-c-1.5"}), "sensor full-frame, and this run has sensor aps-c"),
    ],
)
def test_a_session_is_of_one_zone(tmp_path, wanted, words):
    folder = tmp_path / "hall"
    with Session(folder, SET_UP) as session:
        session.append(attempt(1))
    with pytest.raises(UserError, match=r"such as --session .*hall-2$") as refused:
        Session(folder, wanted)
    assert words in str(refused.value)
    assert set_up.load(folder / sessions.SET_UP_FILE) == SET_UP
    with Session(folder, SET_UP) as session:  # neither locked nor changed
        assert session.next_attempt == 2


@pytest.mark.parametrize(
    "wanted",
    [
        other({"focus_distance_m": 4.0005}),  # as feet and inches have it
        other(camera={"sensor": "36x24"}),
        other(person={"stature_m": 1.8}, timer={"delay_s": 5}),
    ],
)
def test_the_same_zone_told_otherwise_is_the_same_session(tmp_path, wanted):
    with Session(tmp_path, SET_UP) as session:
        session.append(attempt(1))
    with Session(tmp_path, wanted) as session:
        assert session.next_attempt == 2


def test_a_session_without_attempts_takes_any_set_up(tmp_path):
    for chosen in (SET_UP, other({"focal_length_mm": 85})):
        with Session(tmp_path, chosen):
            pass
    assert set_up.load(tmp_path / sessions.SET_UP_FILE).lens.focal_length_mm == 85


def test_profiles_are_kept_with_the_session(tmp_path):
    mine = tmp_path / "mine.toml"
    mine.write_bytes(b"a = 1")
    with Session(tmp_path / "one", SET_UP) as session:
        session.keep_profiles(mine, None)
        kept = session.folder / sessions.PROFILE_FILE
        assert kept.read_bytes() == b"a = 1"
        assert not (session.folder / sessions.FEED_PROFILE_FILE).exists()
        session.keep_profiles(kept, None)  # the run that repeats it in its own folder
        with pytest.raises(UserError, match="does not exist"):
            session.keep_profiles(tmp_path / "gone.toml", None)


def test_a_set_up_that_alone_was_deleted_doubles_no_line(tmp_path):
    with Session(tmp_path, SET_UP) as session:
        session.append(attempt(1))
        (tmp_path / sessions.SET_UP_FILE).unlink()
        assert session.look_after()
        assert set_up.load(tmp_path / sessions.SET_UP_FILE) == SET_UP
        session.append(attempt(2))
    assert [a.attempt for a in read_record(tmp_path)] == [1, 2]


def test_a_set_up_that_cannot_be_written_again_doubles_no_line(tmp_path, monkeypatch):
    def refuse(*_):
        raise UserError("the disk is full")

    folder = tmp_path / "session"
    with Session(folder, SET_UP) as session:
        session.append(attempt(1))
        shutil.rmtree(folder)
        monkeypatch.setattr(set_up, "save", refuse)
        session.append(attempt(2))
        session.append(attempt(3))
    assert [a.attempt for a in read_record(folder)] == [1, 2, 3]
