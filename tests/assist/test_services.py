"""The services behind the commands, called from Python: nothing is printed, everything is given."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from assist.base.closing import Closing
from assist.base.errors import UserError
from assist.guidance.countdown import TimerOptions
from assist.run import opening, rehearsing
from assist.run.live import LiveOptions
from assist.run.opening import RunRequest, UserLines, opened
from assist.run.telling import Audible
from assist.session import told
from assist.session.folder import Attempt, now, read_record
from assist.session.rehearsal import read_scores
from assist.setup import feed_profile, personal_profile
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import PersonalProfile
from assist.setup.profiles import ProfileFiles, Profiles, feed_of
from assist.setup.stated import feed_from, put, set_up_from
from tests.assist.footage import SET_UP, PlacedDetector

STATED = {"lens.focal_length_mm": "35mm", "lens.f_number": "f/2.8", "lens.focus_distance_m": "4m"}
QUIET = LiveOptions(window=False, orders_by=None)


def attempt(number, **values):
    """A line of a record."""
    usual = {
        "taken_at": now(), "feed": "0", "feed_time_s": 1.0, "verdict": "in focus",
        "distance_m": 4.0, "standard_deviation_m": 0.1, "p_in_focus": 0.5, "to_mark_m": 0.0,
        "guidance": "hold", "framing": None, "trigger": "none", "picture": None, "set_up": {},
    }  # fmt: skip
    return Attempt(attempt=number, **{**usual, **values})


class Network(PlacedDetector, Closing):
    """Somebody at 4 m, as the pose network of a run."""

    threads = frozenset()

    def __init__(self, *_, **__):
        super().__init__(lambda _: 4.0, SET_UP)


@pytest.fixture
def clip(tmp_path, monkeypatch):
    """A clip of two seconds."""
    monkeypatch.setattr(opening, "MediaPipePoseDetector", Network)
    path = tmp_path / "clip.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (640, 360))
    ramp = np.tile(np.linspace(60, 200, 640, dtype=np.uint8)[None, :, None], (360, 1, 3))
    for _ in range(50):
        writer.write(ramp)
    writer.release()
    return path


def test_a_run_is_opened_gone_through_and_closed(clip, tmp_path, capsys):
    facts, notes, moments = [], [], []
    request = RunRequest(SET_UP, QUIET)
    lines = UserLines(facts.append, notes.append)
    with opened(request, [str(clip)], lines=lines) as on:
        [feed] = on.feeds
        with on.run(feed, request.how, on_moment=moments.append) as run:
            outcome = run.run()
    assert (outcome.pictures, len(moments)) == (50, 50)
    [fact] = facts
    assert fact.startswith("35 mm at f/2.8 focused at 4.00 m: sharp from ")
    assert "gets guidance" in notes[0]
    assert capsys.readouterr() == ("", "")


def test_what_cannot_be_opened_leaves_nothing_open(clip, tmp_path, monkeypatch):
    closed = []
    monkeypatch.setattr(opening.OpenFeed, "close", lambda feed: closed.append(feed.name))
    with (
        pytest.raises(UserError, match="does not exist"),
        opened(RunRequest(SET_UP, QUIET), [str(clip), str(tmp_path / "gone.mp4")]),
    ):
        pass
    assert closed == [str(clip)]
    loud = RunRequest(SET_UP, QUIET, audible=Audible(sound=True))
    with pytest.raises(UserError, match="--sound needs a camera"), opened(loud, [str(clip)]):
        pass


@pytest.mark.parametrize(
    ("audible", "camera", "real_time", "sounds"),
    [
        (Audible(), True, False, True),
        (Audible(), False, True, False),
        (Audible(sound=False), True, False, False),
        (Audible(sound=True), False, True, True),
    ],
)
def test_sound_is_for_who_can_follow_it(audible, camera, real_time, sounds):
    assert audible.settled(camera=camera, real_time=real_time).sound is sounds


def test_a_rehearsal_is_scored_and_kept(clip, tmp_path):
    folder = tmp_path / "kept"
    request = RunRequest(SET_UP, QUIET)
    first = rehearsing.rehearse(request, [str(clip)] * 2, 1.0, keep=folder)
    assert [score.run for score in first.scores] == [1, 2]
    assert not first.before
    assert not first.problems
    again = rehearsing.rehearse(request, [str(clip)], 1.0, keep=folder)
    assert [score.run for score in again.before] == [1, 2]
    assert [score.run for score in read_scores(folder)] == [1, 2, 3]
    short = rehearsing.rehearse(request, [str(clip)], 30.0)
    assert not short.scores


def test_a_run_that_takes_pictures_keeps_them_in_its_session(clip, tmp_path):
    from assist.camera.frame import FrameTrigger

    how = replace(QUIET, timer=TimerOptions(1.0))
    folder = tmp_path / "session"
    with (
        opened(RunRequest(SET_UP, how), [str(clip)], keep=folder) as on,
        on.run(on.feeds[0], how, session=on.session, trigger=FrameTrigger(folder)) as run,
    ):
        run.run()
    [kept] = read_record(folder)
    assert (folder / kept.picture).is_file()


# -- sessions told --------------------------------------------------------------------------------


def test_sessions_of_a_folder_are_told_and_a_damaged_one_hides_no_other(clip, tmp_path):
    request = RunRequest(SET_UP, QUIET)
    for name in ("a", "b"):
        with opened(request, [str(clip)], keep=tmp_path / name):
            pass
    (tmp_path / "b" / "set-up.toml").write_text("lens = 3")
    good, bad = told.sessions_in(tmp_path)
    assert good.in_words() == "35 mm, f/2.8, 4 m; 0 attempts, 0 in focus"
    assert bad.set_up is None
    assert "set-up.toml" in bad.in_words()
    assert list(told.sessions_in(tmp_path / "nowhere")) == []
    with pytest.raises(UserError, match="not a session"):
        told.attempts_of(tmp_path)


def test_attempts_are_told_in_lines_and_rows():
    one = attempt(1, verdict="in focus", distance_m=4.1, standard_deviation_m=0.1)
    two = attempt(2, verdict="no one in view", distance_m=None, problem="no picture")
    first, second = told.lines_of([one, two])
    assert first.startswith("   1  ")
    assert "in focus, eyes at 4.10 m (sd 0.10 m)" in first
    assert second.endswith("no one in view; problem: no picture")
    assert told.lines_of([]) == ["no attempts yet"]
    assert told.attempts_csv([one, two]).count(b"\r\n") == 3
    assert told.verdict_told("of a later program") == "of a later program"
    assert told.parts_told(("head", "tail")) == "head, tail"


# -- what is stated -------------------------------------------------------------------------------


def test_what_is_stated_goes_over_a_file(tmp_path):
    file = tmp_path / "a.toml"
    file.write_text("[lens]\nfocal_length_mm = 50\nf_number = 2\nfocus_distance_m = 3\n")
    chosen = set_up_from(file, {"lens.f_number": "f/4", "person.stature_m": "5ft 7in"})
    assert (chosen.lens.focal_length_mm, chosen.lens.f_number) == (50, 4)
    assert chosen.person.stature_m == pytest.approx(1.7018)


def test_errors_call_a_place_by_its_name_or_by_itself():
    with pytest.raises(UserError, match=r"lacks lens\.focal_length_mm, lens\.f_number, lens\.foc"):
        set_up_from(None, {})
    with pytest.raises(UserError, match="lacks --lens"):
        set_up_from(None, {}, names={"lens.focal_length_mm": "--lens"})
    wrong = {**STATED, "person.stature_m": "9m"}
    with pytest.raises(UserError, match=r"person\.stature_m: must be less"):
        set_up_from(None, wrong)
    with pytest.raises(UserError, match="--stature: must be less"):
        set_up_from(None, wrong, names={"person.stature_m": "--stature"})
    with pytest.raises(UserError, match="lens must be a table"):
        put({"lens": 3}, "lens.f_number", 2)


def test_a_feed_needs_no_lens_where_it_has_one_of_its_own():
    geometry, stature_m = feed_from(
        None, {"feed.horizontal_field_of_view_deg": "65deg", "person.stature_m": "1.7m"}
    )
    assert geometry.own_lens
    assert stature_m == 1.7
    with pytest.raises(UserError, match="says nothing without the lens"):
        feed_from(None, {"camera.sensor": "aps-c-1.5"})


def test_profiles_are_those_given_else_those_beside_the_set_up(tmp_path):
    file = tmp_path / "set-up.toml"
    learned_at = personal_profile.now()
    person = PersonalProfile(learned_at=learned_at, scale=1.1, scale_sd=0.01)
    view = FeedProfile.of_camera(
        feed_from(None, {"feed.horizontal_field_of_view_deg": 65})[0].camera(640, 360),
        "field of view",
        0.03,
    )
    feed_profile.save(view, tmp_path / "webcam.toml")
    personal_profile.save(person, tmp_path / "me.toml")
    stated = {**STATED, "feed.through": "own-lens", "feed.profile": "webcam.toml"}
    chosen = set_up_from(None, {**stated, "feed.source": "clip.mp4", "person.profile": "me.toml"})
    (tmp_path / "clip.mp4").touch()
    files = ProfileFiles.of(chosen, file)
    assert files == ProfileFiles(tmp_path / "me.toml", tmp_path / "webcam.toml")
    assert files.load() == Profiles(person, view)
    assert feed_of(chosen, file) == str(tmp_path / "clip.mp4")
    assert feed_of(chosen, None) == "clip.mp4"
    other = ProfileFiles.of(chosen, file, feed=tmp_path / "other.toml")
    with pytest.raises(UserError, match=r"other\.toml"):
        other.load()
