import json

import pytest

from assist import session as sessions
from assist import set_up
from assist.errors import UserError
from assist.session import Attempt, Session, read_record

SET_UP = set_up.from_values({"lens": {"focal_length_mm": 35, "f_number": 2, "focus_distance_m": 4}})


def attempt(number):
    return Attempt(
        attempt=number, taken_at=sessions.now(), feed="walk.mp4", feed_time_s=12.0,
        verdict="in focus", distance_m=4.05, standard_deviation_m=0.12, p_in_focus=0.99,
        to_mark_m=0.05, guidance="hold still", framing="full body", cut=(), trigger="frame",
        picture=f"picture-{number:04d}.png", set_up=SET_UP.model_dump(mode="json"),
    )  # fmt: skip


def test_round_trip_and_numbering(tmp_path):
    session = Session(tmp_path / "one", SET_UP)
    session.append(attempt(1))
    session.append(attempt(2))
    again = Session(tmp_path / "one", SET_UP)
    assert again.next_attempt == 3
    assert [a.attempt for a in read_record(tmp_path / "one")] == [1, 2]
    assert read_record(tmp_path / "one")[0].distance_m == 4.05
    assert set_up.load(tmp_path / "one" / sessions.SET_UP_FILE) == SET_UP


def test_lines_are_json(tmp_path):
    session = Session(tmp_path, SET_UP)
    session.append(attempt(1))
    line = json.loads((tmp_path / sessions.RECORD_FILE).read_text())
    assert line["set_up"]["lens"]["focal_length_mm"] == 35.0
    taken_at = line["taken_at"]
    assert taken_at.endswith("Z") or taken_at[-6] in "+-"  # the offset from UTC is kept


def test_a_last_line_cut_short_by_a_power_failure_is_passed_over(tmp_path):
    session = Session(tmp_path, SET_UP)
    session.append(attempt(1))
    with (tmp_path / sessions.RECORD_FILE).open("a") as file:
        file.write('{"version": 1, "atte')
    assert len(read_record(tmp_path)) == 1


def test_damage_elsewhere_is_told(tmp_path):
    session = Session(tmp_path, SET_UP)
    session.append(attempt(1))
    path = tmp_path / sessions.RECORD_FILE
    path.write_text("rubbish\n" + path.read_text())
    with pytest.raises(UserError, match="line 1"):
        read_record(tmp_path)


def test_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(UserError, match="cannot make session folder"):
        Session(tmp_path / "file" / "session", SET_UP)
