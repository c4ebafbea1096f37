"""A session's report and the table of sessions."""

import csv
import io
import json
import re

import cv2
import numpy as np
import pytest

from assist import cli
from assist.base.errors import UserError
from assist.report import as_page, as_pdf, summary
from assist.review import export
from assist.review.checked import MOVEMENT, Cause, CheckedPicture, Sharpness
from assist.session.folder import Session, now
from assist.session.rehearsal import RunScore
from assist.setup import set_up
from tests.assist.test_session import SET_UP, attempt

WICKED = "<script>alert('x')</script> $a_b$ =1+1"


def session(folder, attempts=3, rehearsed=2, reviewed=True, name="Window light"):
    chosen = set_up.from_values({**SET_UP.model_dump(exclude_none=True), "name": name})
    with Session(folder, chosen) as kept:
        for number in range(1, attempts + 1):
            one = attempt(number).model_copy(
                update={"distance_m": 3.9 + 0.1 * number, "to_mark_m": -0.1 + 0.1 * number}
            )
            if number == 2:
                one = one.model_copy(
                    update={"problem": WICKED, "distance_m": None, "standard_deviation_m": None,
                            "to_mark_m": None, "cut": ("feet",)}
                )  # fmt: skip
            kept.append(one)
    if rehearsed:
        scores = [
            RunScore(run=n, taken_at=now(), countdown_s=10, reached_s=None if n == 1 else 8.0,
                     overshoot_m=0, distance_m=4, to_mark_m=0.1, p_in_focus=0.9,
                     verdict="in focus", framing=None, sway_m=0.01)
            for n in range(1, rehearsed + 1)
        ]  # fmt: skip
        (folder / "rehearsals.jsonl").write_text(
            "".join(s.model_dump_json() + "\n" for s in scores)
        )
    if reviewed:
        (folder / "review").mkdir()
        pictures = [
            CheckedPicture(file="a", attempt=1, verdict=Sharpness.SOFT.value, blur_px=9),
            CheckedPicture(file="b", attempt=3, verdict=Sharpness.SHARP.value, blur_px=2),
        ]
        (folder / "review" / "review.json").write_bytes(export.pictures_json(pictures))
    return folder


def test_what_the_picture_covers_is_told_as_the_camera_is_held():
    """50 mm at 3 m: magnification 1/58, so 36 mm are 2.09 m; no word of a level camera."""
    told = []
    for camera in ({"tilt_deg": 2}, {"orientation": "portrait"}):
        lens = {"focal_length_mm": 50, "f_number": 4, "focus_distance_m": 3}
        chosen = set_up.from_values({"lens": lens, "camera": camera})
        facts = dict(summary.plan_facts(chosen, chosen.focus_zone))
        told.append(facts["picture covers at the mark"])
    assert told == [
        "2.09 by 1.39 m, square to the axis of the lens",
        "1.39 by 2.09 m, square to the axis of the lens",
    ]


def test_a_soft_picture_is_nothing_to_keep(tmp_path):
    folder = session(tmp_path)
    pictures = [
        CheckedPicture(file="a", attempt=1, verdict=Sharpness.SOFT.value, blur_px=9),
        CheckedPicture(file="b", attempt=2, verdict=Sharpness.NOT_SURE.value),
    ]
    (folder / "review" / "review.json").write_bytes(export.pictures_json(pictures))
    first = summary.gather(folder).keep[0]
    assert first.startswith("No picture is surely sharp yet; the nearest to it is attempt 1")


def test_a_picture_that_is_good_for_a_print_names_it(tmp_path):
    folder = session(tmp_path)
    pictures = [
        CheckedPicture(file="b", attempt=3, verdict=Sharpness.ACCEPTABLE.value, blur_px=4,
                       print_size="8 cm wide seen from 60 cm"),
    ]  # fmt: skip
    (folder / "review" / "review.json").write_bytes(export.pictures_json(pictures))
    told = summary.gather(folder)
    assert "(its picture is acceptable for a print 8 cm wide seen from 60 cm)" in told.keep[0]
    page = as_page.page_of(told).decode()
    assert "1 picture checked; acceptable means a print 8 cm wide seen from 60 cm" in page


def test_attempts_of_another_lens_are_told_and_left_out(tmp_path):
    """A record of before such runs were refused."""
    folder = session(tmp_path, reviewed=False)
    record = folder / "record.jsonl"
    lines = record.read_text().splitlines()
    other = attempt(4).model_dump(mode="json")
    other["set_up"]["lens"]["focal_length_mm"] = 85.0
    other |= {"to_mark_m": 5.9, "distance_m": 9.9, "p_in_focus": 1.0}
    record.write_text("\n".join([*lines, json.dumps(other)]) + "\n")
    told = summary.gather(folder)
    assert told.keep[-1] == "Not of this set-up, and left out here: attempt 4 with 85 mm."
    assert told.best.attempt != 4
    assert not any("varied" in line or "on the whole" in line for line in told.keep)


def test_what_to_keep_comes_from_the_pictures_where_they_were_checked(tmp_path):
    told = summary.gather(session(tmp_path))
    assert told.best.attempt == 3
    assert told.keep[0].startswith("Keep: the place of attempt 3")
    assert any(line.startswith("Check the focus") and "attempt 1" in line for line in told.keep)
    assert any("feet" in line for line in told.keep)
    assert any(line.startswith("Mend:") for line in told.keep)


@pytest.mark.parametrize(
    ("cause", "told"),
    [
        *((cause, True) for cause in sorted(MOVEMENT, key=lambda cause: cause.value)),
        (Cause.FRONT_FOCUS, False),
        (Cause.NONE, False),
    ],
)
def test_movement_of_any_kind_is_something_to_change(tmp_path, cause, told):
    folder = session(tmp_path)
    pictures = [CheckedPicture(file="a", attempt=1, cause=cause.value)]
    (folder / "review" / "review.json").write_bytes(export.pictures_json(pictures))
    lines = summary.gather(folder).keep
    assert any(line.startswith(f"Change: {cause.value}") for line in lines) is told


def stood(folder, *places, rights=()):
    """A session of attempts so far behind the mark; those named were in focus, as the feed said."""
    with Session(folder, SET_UP) as kept:
        for number, to_mark_m in enumerate(places, start=1):
            right = number in rights
            kept.append(
                attempt(number).model_copy(
                    update={
                        "to_mark_m": to_mark_m, "distance_m": 4.0 + to_mark_m,
                        "verdict": "in focus" if right else "too far",
                        "p_in_focus": 0.99 if right else 0.1,
                    }
                )
            )  # fmt: skip
    return summary.gather(folder).keep


def test_advice_on_the_place_does_not_spoil_the_place_that_is_kept(tmp_path):
    lines = stood(tmp_path, 0.03, 1.28, 1.30, rights=(1,))
    assert lines[0].startswith("Keep: the place of attempt 1")
    assert lines[1] == (
        "Change: in the 2 attempts that were not right, you were 1.26 m behind that place. Tape a "
        "mark there, under your eyes."
    )
    assert not any("focus at" in line or "farther off" in line for line in lines)


def test_one_wrong_attempt_is_named_and_a_place_as_good_is_not(tmp_path):
    lines = stood(tmp_path / "one", 0.0, -0.8, rights=(1,))
    assert "in attempt 2, which was not right, you were 0.80 m in front of that place" in lines[1]
    assert not any(
        "that place" in line for line in stood(tmp_path / "two", 0.0, 0.05, 0.4, rights=(1, 3))
    )


def test_where_nobody_was_right_the_mark_or_the_focus_is_to_move(tmp_path):
    lines = stood(tmp_path, 1.2, 1.3)
    assert lines[0].startswith("In no attempt were you surely in focus")
    assert "1.25 m behind the mark on the whole" in lines[1]
    assert "focus at 5.25 m" in lines[1]


def test_who_moved_did_not_stand_in_the_wrong_place(tmp_path):
    folder = session(tmp_path, reviewed=False)
    (folder / "review").mkdir()
    pictures = [
        CheckedPicture(file="a", attempt=1, verdict="sharp", blur_px=1.0),
        CheckedPicture(file="b", attempt=3, verdict="soft", blur_px=9.0, cause="you moved"),
    ]
    (folder / "review" / "review.json").write_bytes(export.pictures_json(pictures))
    lines = summary.gather(folder).keep
    assert lines[0].startswith("Keep: the place of attempt 1")
    assert not any("that place" in line or line.startswith("Check the focus") for line in lines)


@pytest.mark.parametrize(
    ("verdicts", "words"),
    [
        ((), "Nothing was tried yet"),
        (("no one in view",), "In the one attempt nobody was seen"),
        (("no one in view",) * 2, "In none of the 2 attempts was anybody seen"),
        (("not sure", "no one in view"), "In none of the 2 attempts was a distance known"),
    ],
)
def test_what_is_said_where_there_is_nothing_to_keep(tmp_path, verdicts, words):
    with Session(tmp_path, SET_UP) as kept:
        for number, verdict in enumerate(verdicts, start=1):
            unknown = {"verdict": verdict, "distance_m": None, "to_mark_m": None}
            kept.append(attempt(number).model_copy(update=unknown))
    assert summary.gather(tmp_path).keep == [f"{words}: the set-up is all there is to keep."]


def test_without_checked_pictures_the_feed_decides(tmp_path):
    told = summary.gather(session(tmp_path, reviewed=False))
    assert told.best.attempt == 1
    assert "99% likely in focus" in told.keep[0]


def test_a_probability_that_was_doubted_is_not_told(tmp_path):
    """As with somebody whose stature is not known: the verdict then is "not sure"."""
    folder = session(tmp_path, attempts=0, reviewed=False)
    with Session(folder, SET_UP) as kept:
        kept.append(attempt(1).model_copy(update={"verdict": "not sure"}))
    told = summary.gather(folder)
    assert told.keep[0].startswith("In no attempt were you surely in focus; the nearest")
    assert "likely" not in told.keep[0]
    with Session(folder, SET_UP) as kept:
        kept.append(attempt(2).model_copy(update={"p_in_focus": 0.85}))
    told = summary.gather(folder)
    assert told.keep[0].startswith("Keep: the place of attempt 2")
    assert "85% likely in focus" in told.keep[0]


def test_page_has_every_attempt_and_escapes(tmp_path):
    page = as_page.page_of(summary.gather(session(tmp_path, name=WICKED))).decode()
    assert "<script" not in page
    assert len(re.findall(r'<tr>\s*<td class="number">\d+</td>\s*<td>\d\d:\d\d:\d\d', page)) == 3
    assert page.count("data:image/svg+xml;base64,") == 2
    assert "https:" not in page
    assert "http:" not in page


@pytest.mark.parametrize("attempts", [0, 1, 3, 120])
def test_pdf_of_any_length(tmp_path, attempts):
    made = as_pdf.pdf_of(
        summary.gather(session(tmp_path, attempts, rehearsed=0, reviewed=False, name=WICKED))
    )
    assert made.startswith(b"%PDF-")
    assert made.rstrip().endswith(b"%%EOF")
    pages = len(re.findall(rb"/Type /Page\b", made))
    assert pages == (1 if attempts <= 3 else pages)
    assert pages <= 4


def command(monkeypatch, capsys, *arguments):
    monkeypatch.setattr("sys.argv", ["assist", *map(str, arguments)])
    with pytest.raises(SystemExit) as end:
        cli.main()
    out, err = capsys.readouterr()
    return end.value.code, out, err


def test_report_command(monkeypatch, capsys, tmp_path):
    folder = session(tmp_path / "one")
    code, out, err = command(monkeypatch, capsys, "report", folder)
    assert (code, err) == (0, "")
    assert (folder / "report.html").is_file()
    assert (folder / "report.pdf").is_file()
    assert "sharp from" in out


def test_sessions_list_show_export(monkeypatch, capsys, tmp_path):
    session(tmp_path / "one")
    session(tmp_path / "two", attempts=0, rehearsed=0, reviewed=False)
    session(tmp_path / "zed", attempts=1, rehearsed=0, reviewed=False)
    (tmp_path / "other").mkdir()
    code, out, _ = command(monkeypatch, capsys, "sessions", "list", tmp_path)
    assert code == 0
    assert out.splitlines() == [
        "one: 35 mm, f/2, 4 m; 3 attempts, 3 in focus",
        "two: 35 mm, f/2, 4 m; 0 attempts, 0 in focus",
        "zed: 35 mm, f/2, 4 m; 1 attempt, 1 in focus",
    ]
    _, out, _ = command(monkeypatch, capsys, "sessions", "show", tmp_path / "one")
    assert len(out.splitlines()) == 3
    command(monkeypatch, capsys, "sessions", "export", tmp_path / "one")
    text = (tmp_path / "one" / "attempts.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["attempt"] for row in rows] == ["1", "2", "3"]
    assert rows[0]["lens.focal_length_mm"] == "35"


def test_sessions_are_listed_where_runs_leave_them(monkeypatch, capsys, tmp_path):
    """Without --session in ./sessions; with --session saturday beside it. As `show` takes them."""
    monkeypatch.chdir(tmp_path)
    code, _, err = command(monkeypatch, capsys, "sessions", "list")
    assert code == 2
    assert err.count("\n") == 1
    assert "./sessions and the current folder hold no sessions" in err
    for name in ("sessions/2026-05-01-100000", "saturday"):
        with Session(tmp_path / name, SET_UP):
            pass
    code, out, _ = command(monkeypatch, capsys, "sessions", "list")
    assert code == 0
    names = [line.partition(":")[0] for line in out.splitlines()]
    assert names == ["2026-05-01-100000", "saturday"]
    for name in names:
        assert command(monkeypatch, capsys, "sessions", "show", name)[0] == 0


@pytest.mark.parametrize(
    ("camera", "words"),
    [
        ({"height_m": 1.35, "tilt_deg": 2}, "landscape, lens 1.35 m high, tilted 2\u00b0 down"),
        (
            {"tilt_deg": -3.5, "orientation": "portrait"},
            "portrait, height not given, tilted 3.5\u00b0 up",
        ),
        ({"height_m": 1.2, "tilt_deg": 0}, "landscape, lens 1.20 m high, level"),
    ],
)
def test_how_the_camera_stood_is_on_the_page(tmp_path, camera, words):
    values = SET_UP.model_dump(exclude_none=True)
    chosen = set_up.from_values(values | {"camera": values["camera"] | camera})
    with Session(tmp_path, chosen):
        pass
    assert words in as_page.page_of(summary.gather(tmp_path)).decode()


def test_a_damaged_session_hides_no_other(monkeypatch, capsys, tmp_path):
    session(tmp_path / "a")
    session(tmp_path / "b")
    (tmp_path / "a" / "record.jsonl").write_text("rubbish\nmore\n")
    code, out, _ = command(monkeypatch, capsys, "sessions", "list", tmp_path)
    assert code == 0
    assert "damaged" in out.splitlines()[0]
    assert out.splitlines()[1].startswith("b: 35 mm")


@pytest.mark.parametrize(
    "arguments", [("report", "nowhere"), ("sessions", "show", "nowhere"),
                  ("sessions", "list", "nowhere"), ("report", "."), ("sessions", "export", ".")],
)  # fmt: skip
def test_mistakes_are_one_line(monkeypatch, capsys, tmp_path, arguments):
    monkeypatch.chdir(tmp_path)
    code, _, err = command(monkeypatch, capsys, *arguments)
    assert code == 2
    assert err.count("\n") == 1


def test_a_damaged_review_is_told(tmp_path):
    folder = session(tmp_path)
    (folder / "review" / "review.json").write_text(json.dumps({"pictures": [{"nothing": 1}]}))
    with pytest.raises(UserError, match="run assist review again"):
        summary.gather(folder)


def photographed(folder):
    """Attempts 1 and 3 were reviewed, 3 sharp; 2 has the feed's own picture; 3's crop is kept."""
    session(folder)
    picture = np.full((600, 900, 3), 90, np.uint8)
    cv2.circle(picture, (450, 250), 120, (200, 180, 160), -1)
    for name in ("small-1.jpg", "small-3.jpg", "eyes-3.png"):
        cv2.imwrite(str(folder / "review" / name), picture[:300] if "eyes" in name else picture)
    pictures = [
        CheckedPicture(file="a", attempt=1, verdict=Sharpness.SOFT.value, blur_px=9,
                       thumbnail="small-1.jpg"),
        CheckedPicture(file="b", attempt=3, verdict=Sharpness.SHARP.value, blur_px=2,
                       thumbnail="small-3.jpg", eyes_crop="eyes-3.png"),
    ]  # fmt: skip
    (folder / "review" / "review.json").write_bytes(export.pictures_json(pictures))
    record = folder / "record.jsonl"
    lines = [json.loads(line) for line in record.read_text().splitlines()]
    for line in lines:
        line["picture"] = "picture-0002.png" if line["attempt"] == 2 else None
    record.write_text("".join(json.dumps(line) + "\n" for line in lines))
    cv2.imwrite(str(folder / "picture-0002.png"), picture)
    return folder


def test_the_report_shows_the_photographs_the_best_first(tmp_path):
    told = summary.gather(photographed(tmp_path))
    assert [shot.attempt.attempt for shot in told.photographs] == [3, 1, 2]
    best = told.photographs[0]
    small = cv2.imdecode(np.frombuffer(best.jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert max(small.shape[:2]) == 640
    eyes = cv2.imdecode(np.frombuffer(best.eyes_jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert eyes.shape == (300, 900, 3)  # one pixel is one pixel
    page = as_page.page_of(told).decode()
    assert page.count('src="data:image/jpeg;base64,') == 4
    assert page.index("attempt 3") < page.index("attempt 1")
    assert as_pdf.pdf_of(told).startswith(b"%PDF")


def test_photographs_that_are_damaged_or_lie_elsewhere_are_left_out(tmp_path):
    folder = photographed(tmp_path / "here")
    (tmp_path / "other.png").write_bytes((folder / "picture-0002.png").read_bytes())
    (folder / "review" / "small-1.jpg").write_bytes(b"no picture")
    record = folder / "record.jsonl"
    record.write_text(record.read_text().replace("picture-0002.png", "../other.png"))
    assert [shot.attempt.attempt for shot in summary.gather(folder).photographs] == [3]


def test_one_attempt_and_one_run_get_no_chart(tmp_path):
    one = as_page.page_of(summary.gather(session(tmp_path / "one", 1, 1))).decode()
    more = as_page.page_of(summary.gather(session(tmp_path / "more", 3, 2))).decode()
    assert one.count("data:image/svg+xml") == 0
    assert more.count("data:image/svg+xml") == 2
