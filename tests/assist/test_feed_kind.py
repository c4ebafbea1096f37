"""Through which lens a feed sees: asked once, remembered, refused where nobody can answer."""

import io
import sys

import pytest

from assist import cli
from assist.base.errors import UserError
from assist.cli.options.feed_kind import settled
from assist.setup import preferences, set_up

LENS = {"focal_length_mm": 35, "f_number": 2, "focus_distance_m": 4}


@pytest.fixture
def file(tmp_path):
    return tmp_path / "preferences.toml"


def of(**feed):
    return set_up.from_values({"lens": LENS, **({"feed": feed} if feed else {})})


def answer(monkeypatch, *lines):
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_what_is_stated_is_taken(file):
    for stated in (
        of(through="taking-lens"),
        of(through="own-lens", horizontal_field_of_view_deg=65),
        of(profile="camera.toml"),
    ):
        assert settled(stated, "0", file, ask=False) == stated
    assert not file.exists()


def test_what_nobody_stated_is_refused_with_what_to_say(file):
    """A webcam taken for the taking lens would make every distance wrong in silence."""
    with pytest.raises(UserError, match=r"feed '0': .*--through taking-lens .*own-lens --field"):
        settled(of(), "0", file, ask=False)


def test_the_camera_itself_is_asked_once(file, monkeypatch, capsys):
    answer(monkeypatch, "5", "1")
    found = settled(of(crop=1.2), "0", file, ask=True)
    assert found.feed.through == "taking-lens"
    assert found.feed.crop == 1.2
    assert "type 1 or 2" in capsys.readouterr().out
    answer(monkeypatch)
    assert settled(of(crop=1.2), "0", file, ask=True) == found
    assert settled(of(), "0", file, ask=False).feed.through == "taking-lens"
    assert "as you said before" in capsys.readouterr().err


def test_a_webcam_is_asked_for_its_angle_and_each_feed_by_itself(file, monkeypatch):
    answer(monkeypatch, "2", "wide", "200", "78")
    found = settled(of(), "0", file, ask=True)
    assert found.feed.through == "own-lens"
    assert found.feed.horizontal_field_of_view_deg == 78
    answer(monkeypatch, "2", "")
    assert settled(of(), "rtsp://phone", file, ask=True).feed.horizontal_field_of_view_deg == 70
    assert settled(of(), "0", file, ask=False).feed.horizontal_field_of_view_deg == 78
    assert set(preferences.load(file).feeds) == {"0", "rtsp://phone"}


def test_the_answer_is_in_the_session_and_not_in_a_plan(file, monkeypatch):
    answer(monkeypatch, "1")
    assert "through" not in set_up.to_toml(of())
    assert 'through = "taking-lens"' in set_up.to_toml(settled(of(), "0", file, ask=True))


def test_other_preferences_stay(file, monkeypatch):
    preferences.save(preferences.Preferences(screen_diagonal_m=0.6), file)
    answer(monkeypatch, "1")
    settled(of(), "0", file, ask=True)
    assert preferences.load(file).screen_diagonal_m == 0.6


def test_the_command_refuses_in_one_line(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(preferences, "usual_path", lambda: tmp_path / "preferences.toml")
    line = "assist live 0 --lens 35mm --aperture f/2 --focus 4m --no-window"
    monkeypatch.setattr(sys, "argv", line.split())
    assert cli.run(cli.load()) == 2
    assert capsys.readouterr().err.count("\n") == 1
