"""Calibrating on the shipped clip, as a user does it, and what that brings."""

import math
import sys

import cv2
import pytest

from assist import cli
from assist.run import demo, true_distances
from assist.session.folder import read_record
from assist.setup.personal_profile import load as load_profile
from assist.setup.set_up import load

STANDS_FROM, STANDS_TO = 225, 280  # pictures in which the person stands at the mark


def run(monkeypatch, *arguments):
    monkeypatch.setattr(sys, "argv", ["assist", *map(str, arguments)])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    return ended.value.code


@pytest.fixture(scope="module")
def standing(tmp_path_factory):
    """The part of the clip in which the person stands at the mark."""
    path = tmp_path_factory.mktemp("mark") / "standing.mp4"
    capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (1280, 720))
    for index in range(STANDS_TO):
        _, picture = capture.read()
        if index >= STANDS_FROM:
            writer.write(picture)
    writer.release()
    return path


def test_a_few_seconds_at_a_mark_sharpen_the_distance(standing, tmp_path, monkeypatch, capsys):
    """The mark is under the hips; the picture is taken later, with the same profile.

    The camera is tilted by 2 degrees, as its set-up says: along the floor, the hips at depth z and
    y below the axis are z cos(2 deg) - y sin(2 deg) away from below the lens.
    """
    samples = demo.sample_folder()
    chosen = load(samples / demo.SET_UP)
    depth_m, below_m = 4.195, 0.31  # middle of the hips there, from the clip's truth table
    tilt = math.radians(chosen.camera.tilt_deg)
    floor_m = depth_m * math.cos(tilt) - below_m * math.sin(tilt) + chosen.sensor_offset_m
    profile = tmp_path / "me.toml"
    learn = ("calibrate", "mark", standing, "--at", f"{floor_m:.3f}m", "--set-up",
             samples / demo.SET_UP, "--wait", "0", "--seconds", "2", "--out", profile)  # fmt: skip
    assert run(monkeypatch, *learn) == 0
    told = capsys.readouterr().out
    assert "postures hardly differed" in told
    assert "measured along the floor from below the camera" in told
    assert "tilt 2.0 degrees as given" in told
    learned = load_profile(profile)
    assert learned.scale_sd < 0.05
    assert run(monkeypatch, *learn) == 2  # never written over without being told to
    assert "--replace" in capsys.readouterr().err

    known = true_distances.load(samples / demo.TRUTH)
    errors = {}
    for name, more in (("stature", ()), ("profile", ("--profile", profile))):
        kept = tmp_path / name
        live = ("live", samples / demo.CLIP, "--set-up", samples / demo.SET_UP, "--no-window",
                "--timer", "13s", "--session", kept, *more)  # fmt: skip
        assert run(monkeypatch, *live) == 0
        [attempt] = read_record(kept)
        true_m = known.eyes_at(attempt.feed_time_s) + chosen.sensor_offset_m
        errors[name] = abs(attempt.distance_m / true_m - 1)
    assert errors["profile"] < 0.02
    assert errors["profile"] < errors["stature"]


def test_the_clip_within_black_bars(standing, tmp_path, monkeypatch, capsys):
    """Shown smaller in the middle of a larger feed, as by a camera's own output."""
    boxed = tmp_path / "boxed.mp4"
    capture = cv2.VideoCapture(str(standing))
    writer = cv2.VideoWriter(str(boxed), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (1280, 800))
    pictures = []
    while (found := capture.read())[0]:
        small = cv2.resize(found[1], (960, 540), interpolation=cv2.INTER_AREA)
        pictures.append(cv2.copyMakeBorder(small, 130, 130, 160, 160, cv2.BORDER_CONSTANT))
    for picture in (*pictures, *pictures[::-1]):  # to and fro, to last longer
        writer.write(picture)
    writer.release()
    profile, kept = tmp_path / "feed.toml", tmp_path / "kept"
    lens = ("calibrate", "lens", boxed, "--lens", "35mm", "--focus", "4m", "--out", profile)
    assert run(monkeypatch, *lens) == 0
    told = capsys.readouterr().out
    assert "160 and 160 px left and right, 130 and 130 px top and below" in told
    assert "960x540 (16:9)" in told
    live = ("live", boxed, "--set-up", demo.sample_folder() / demo.SET_UP, "--no-window",
            "--session")  # fmt: skip
    assert run(monkeypatch, *live, kept, "--timer", "2s", "--feed-profile", profile) == 0
    assert "has bars" not in capsys.readouterr().err
    [attempt] = read_record(kept)
    chosen, known = (
        load(demo.sample_folder() / demo.SET_UP),
        true_distances.load(demo.sample_folder() / demo.TRUTH),
    )
    true_m = known.eyes_at(STANDS_FROM / 25 + attempt.feed_time_s) + chosen.sensor_offset_m
    assert attempt.distance_m == pytest.approx(true_m, rel=0.05)
    assert cv2.imread(str(kept / attempt.picture)).shape == (540, 960, 3)

    # Without the profile they are found in the first pictures, told, and cut off from then on.
    assert run(monkeypatch, *live, tmp_path / "unknowing", "--timer", "3.5s") == 0
    told = capsys.readouterr().err
    assert told.count("has bars") == 1
    assert "of its 1280x800 the picture is 960x540; they are cut off from now on" in told
    [attempt] = read_record(tmp_path / "unknowing")
    assert attempt.distance_m == pytest.approx(true_m, rel=0.05)
    assert cv2.imread(str(tmp_path / "unknowing" / attempt.picture)).shape == (540, 960, 3)
