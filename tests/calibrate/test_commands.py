"""The commands' own part: arguments, files, refusals. Poses and boards are tested beside."""

import math
from dataclasses import replace
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from assist.base.closing import Closing
from assist.base.errors import UserError
from assist.calibrate import at_marks
from assist.calibrate.board import Board
from assist.cli import calibrate_mark as command
from assist.cli.calibrate import app
from assist.feed import Frame
from assist.output.sound.note_patterns import BEGIN, END
from assist.output.sound.output import NoSoundError
from assist.output.sound.signals import Signals
from assist.pose.landmarks import COUNT, Landmark
from assist.setup import feed_profile
from assist.setup import personal_profile as personal
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose
from tests.calibrate import test_measured as marks
from tests.calibrate.test_board import CAMERA, TILTED, seen


def run(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments])


def test_board_from_a_folder_of_pictures(tmp_path):
    folder = tmp_path / "pictures"
    folder.mkdir()
    for k, view in enumerate(TILTED):
        cv2.imwrite(str(folder / f"{k:02d}.png"), seen(Board("charuco", 8, 6, 30.0), *view))
    out = tmp_path / "feed.toml"
    result = run("board", folder, "--out", out, "--every", 0)
    assert result.exit_code == 0, result.output
    assert "reprojection error" in result.output
    kept = feed_profile.load(out)
    assert kept.fx_px == pytest.approx(CAMERA.fx_px, rel=0.01)
    assert kept.camera(640, 360).fx_px == pytest.approx(kept.fx_px / 2)
    with pytest.raises(UserError, match="another shape"):
        kept.camera(640, 480)
    again = run("board", folder, "--out", out)
    assert isinstance(again.exception, UserError)


@pytest.mark.parametrize("ending", ["png", "pdf"])
def test_board_to_print(tmp_path, ending):
    path = tmp_path / f"board.{ending}"
    result = run("print-board", path, "--squares", "7x5", "--square", "20mm")
    assert result.exit_code == 0, result.output
    assert path.stat().st_size > 1000
    if ending == "png":
        assert b"pHYs" in path.read_bytes()[:80]
        picture = cv2.imread(str(path))
        assert Board("charuco", 7, 5, 20.0).find(picture) is not None


def test_board_to_print_fits_home_paper_or_says_that_it_does_not(tmp_path):
    assert "larger than" not in run("print-board", tmp_path / "board.pdf").output
    large = run("print-board", tmp_path / "large.pdf", "--square", "30mm")
    assert "larger than A4 and letter" in large.output


def test_nobody_is_sent_to_the_mark_of_a_camera_that_does_not_open(tmp_path):
    result = run("mark", "63", "--at", "3m", "--wait", "0", "--out", tmp_path / "me.toml")
    assert isinstance(result.exception, UserError)
    assert "go to the mark" not in result.output


class Mark:
    """A camera before which a person stands at 3 m, and a loudspeaker; `said` is what they do."""

    def __init__(self, monkeypatch, no_device=False, lying=False):
        self.said, self.no_device, self.lying = [], no_device, lying
        monkeypatch.setattr("assist.feed.open_source", self._open)
        monkeypatch.setattr(at_marks, "MediaPipePoseDetector", self._detector)
        monkeypatch.setattr(command, "Signals", self._signals)

    def _open(self, name, rotation_deg=0):
        picture = np.zeros((720, 1280, 3), np.uint8)
        frames = iter([Frame(picture, i / 10, i) for i in range(60)])
        return SimpleNamespace(
            live=True, frames_expected=None, rate_hz=10.0, close=lambda: None,
            read=lambda: next(frames, None),
        )  # fmt: skip

    def _detector(self):
        said, lying = self.said, self.lying

        class Detector(Closing):
            def detect(self, picture, time_s):
                said.append("look")
                camera = PinholeCamera.from_field_of_view(math.radians(65), 1280, 720)
                pose = standing_pose(camera, 3.0, turn_deg=10 * math.sin(time_s))
                middle = np.array([640.0, 360.0])
                on_its_side = (pose.image_px - middle) @ np.array([[0, 1], [-1, 0]]) + middle
                return [replace(pose, image_px=on_its_side) if lying else pose]

            def close(self):
                pass

        return Detector()

    def _signals(self, note, volume):
        self.said.append(f"volume {volume}")
        signals = Signals(note, volume, rate_hz=self._rate_hz, open_stream=self._device)
        signals._ring = self.said.append
        return signals

    def _rate_hz(self):
        if self.no_device:
            raise NoSoundError("there is no output device")
        return 8000

    def _device(self, render, rate_hz):
        return SimpleNamespace(alive=True, close=lambda: self.said.append("silent"))


AT_3_M = ("mark", "0", "--at", "3m", "--wait", "0", "--seconds", "2", "--field-of-view", "65")


def test_begin_and_end_at_the_mark_are_sounded_around_the_watching(tmp_path, monkeypatch):
    mark = Mark(monkeypatch)
    result = run(*AT_3_M, "--volume", "40", "--out", tmp_path / "me.toml")
    assert result.exit_code == 0, result.output
    told = [what for what in mark.said if what != "look"]
    assert told == ["volume 40", BEGIN, END, "silent"]
    assert mark.said[1] == BEGIN
    assert mark.said[-2:] == [END, "silent"]
    assert mark.said.count("look") > 10


@pytest.mark.parametrize(("lying", "hint"), [(True, "give --rotate 270"), (False, "")])
def test_a_picture_on_its_side_is_remarked(tmp_path, monkeypatch, lying, hint):
    Mark(monkeypatch, lying=lying)
    given = ("mark", "0", "--at", "3m", "--wait", "0", "--seconds", "5", "--field-of-view", "65")
    result = run(*given, "--out", tmp_path / "me.toml")
    assert hint in result.output
    assert ("lies on its side" in result.output) == lying


def test_every_mark_has_its_signals_and_they_can_be_muted(tmp_path, monkeypatch):
    mark = Mark(monkeypatch)
    run(*AT_3_M, "--at", "3m", "--out", tmp_path / "me.toml")
    assert [what for what in mark.said if isinstance(what, tuple)] == [BEGIN, END] * 2
    mark.said.clear()
    assert run(*AT_3_M, "--no-sound", "--out", tmp_path / "mute.toml").exit_code == 0
    assert set(mark.said) == {"look"}


def test_without_a_sound_card_one_note_is_left_and_the_profile_is_learned(tmp_path, monkeypatch):
    Mark(monkeypatch, no_device=True)
    result = run(*AT_3_M, "--at", "3m", "--out", tmp_path / "me.toml")
    assert result.exit_code == 0, result.output
    assert result.output.count("no sound") == 1
    assert (tmp_path / "me.toml").exists()


def test_sound_is_not_for_recordings(tmp_path):
    (tmp_path / "recorded").mkdir()
    cv2.imwrite(str(tmp_path / "recorded" / "1.png"), np.zeros((72, 128, 3), np.uint8))
    result = run("mark", tmp_path / "recorded", "--at", "3m", "--sound", "--out", tmp_path / "a")
    assert isinstance(result.exception, UserError)
    assert "--sound needs a camera" in str(result.exception)


def profile_of_view(path, degrees, method="board"):
    camera = PinholeCamera.from_field_of_view(math.radians(degrees), 1280, 720)
    feed_profile.save(feed_profile.FeedProfile.of_camera(camera, method, 0.003), path)
    return path


def test_a_mark_is_measured_by_the_profile_that_the_set_up_names(tmp_path, monkeypatch):
    """A webcam of 65 degrees beside a camera with a lens of 50 mm, which sees 39."""
    Mark(monkeypatch)
    profile_of_view(tmp_path / "webcam.toml", 65)
    chosen = tmp_path / "set-up.toml"
    chosen.write_text(
        "[lens]\nfocal_length_mm = 50\nf_number = 2\nfocus_distance_m = 4\n"
        '[feed]\nthrough = "own-lens"\nprofile = "webcam.toml"\n'
    )
    at = ("mark", "0", "--at", "3m", "--wait", "0", "--seconds", "2", "--measured", "axis")
    scales = []
    for name, how in (
        ("named", ("--set-up", chosen)),
        ("both", ("--set-up", chosen, "--feed-profile", tmp_path / "webcam.toml")),
        ("given", ("--feed-profile", tmp_path / "webcam.toml")),
    ):
        out = tmp_path / f"{name}.toml"
        assert run(*at, *how, "--out", out).exit_code == 0
        scales.append(personal.load(out).scale)
    assert scales[0] == scales[1]
    # The tape starts at the sensor plane, 51 mm behind the lens, only where a camera is told of.
    assert scales[0] / scales[2] == pytest.approx((3 - 0.0506) / 3, abs=0.004)


def test_a_feed_that_its_profile_is_not_of_is_told_before_anybody_walks(tmp_path, monkeypatch):
    Mark(monkeypatch)
    camera = PinholeCamera.from_field_of_view(1.0, 640, 480)
    profile = feed_profile.FeedProfile.of_camera(camera, "board", 0.003)
    feed_profile.save(profile, tmp_path / "webcam.toml")
    result = run(
        "mark", "0", "--at", "3m", "--feed-profile", tmp_path / "webcam.toml",
        "--out", tmp_path / "me.toml",
    )  # fmt: skip
    assert isinstance(result.exception, UserError)
    assert "another shape" in str(result.exception)
    assert "go to the mark" not in result.output


def test_the_set_ups_tilt_and_stature_count_with_a_feed_profile_too(at_the_mark, tmp_path):
    floor, _, _ = at_the_mark
    profile = profile_of_view(tmp_path / "webcam.toml", 60)
    chosen = tmp_path / "set-up.toml"
    chosen.write_text(
        "[lens]\nfocal_length_mm = 50\nf_number = 2\nfocus_distance_m = 4\n"
        "[person]\nstature_m = 1.1\n[camera]\ntilt_deg = 14\n"
        '[feed]\nthrough = "own-lens"\nhorizontal_field_of_view_deg = 60\npitch_deg = 2\n'
    )
    how = ("mark", "c.mp4", "--at", floor, "--set-up", chosen, "--feed-profile", profile)
    small = run(*how, "--out", tmp_path / "small.toml")
    assert "times as large as you stated" in str(small.exception)
    result = run(*how, "--stature", "1.69m", "--out", tmp_path / "me.toml")
    assert "tilt 12.0 degrees as given" in result.output


OUT = ("--out", "p.toml")
LENS = ("--lens", "35mm", "--focus", "3m")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("print-board", "x.gif"), "png or .pdf"),
        (("print-board", "x.png", "--squares", "eight"), "8x6"),
        (("mark", "0", "--at", "far", "--out", "p.toml"), "--at"),
        (
            ("lens", "--size", "640x360", "--lens", "35", "--focus", "0.1m", *OUT),
            "four focal",
        ),
        (("lens", "--size", "640x360", "--lens", "0", "--focus", "3m", *OUT), "--lens"),
        (("lens", "--size", "640x360", "--lens", "35", "--focus", "soon", *OUT), "--focus"),
        (("lens", *LENS, "--size", "big", *OUT), "--size: write it as 1920x1080"),
        (("lens", *LENS, *OUT), "--size"),
        (("lens", *LENS, "--size", "640x360", "--area", "700x300", *OUT), "does not fit"),
        (("lens", *LENS, "--size", "640x360", "--crop", "0.5", *OUT), "--crop"),
        (("lens", *LENS, "--size", "640x360", "--sensor", "1x0.1", *OUT), "--sensor"),
        (("view", "--size", "640x360", *OUT), "exactly one"),
        (("view", "--size", "640x360", "--vertical", "40", "--diagonal", "70", *OUT), "not --v"),
        (("view", "--size", "640x360", "--vertical", "180", *OUT), "equal to 179 degrees"),
        (("view", "--size", "640x360", "--vertical", "wide", *OUT), "--vertical"),
        (("mark", "a", "--at", "3m", "--tilt", "80", *OUT), "--tilt: must be less than"),
        (("mark", "a", "--at", "3m", "--roll", "much", *OUT), "--roll"),
        (("mark", "a", "--at", "3m", "--volume", "101", *OUT), "--volume"),
        (("mark", "a", "--at", "3m", "--camera-height", "30m", *OUT), "--camera-height"),
        (("mark", "a", "b", "--at", "3m", "--out", "p.toml"), "2 feeds for 1 marks"),
        (("mark", "a", "--at", "0m", *OUT), "--at 0m: must be greater than 0"),
        (("mark", "a", "--at=-2m", *OUT), "--at -2m: must be greater than 0"),
        (("mark", "a", "--at", "0.2m", *OUT), "at least 0.3 m before"),
        (("mark", "a", "--at", "0.33m", *LENS, *OUT), "at 0.29 m"),
        (("mark", "a", "--at", "3m,wide", *OUT), "--at 3m,wide"),
        (("mark", "a", "--at", "3m", "--stature", "10m", *OUT), "--stature: must be less"),
        (("mark", "a", "--at", "3m", "--name", "x" * 201, *OUT), "--name may have 200"),
        (("mark", "a", "--at", "3m", "--sensor", "aps-c-1.5", *OUT), "--sensor says nothing"),
        (("mark", "a", "--at", "3m", "--crop", "2", "--field-of-view", "60", *OUT), "--crop says"),
        (("mark", "a", "--at", "3m", "--focus", "4m", *OUT), "--focus says nothing"),
        (("mark", "a", "--at", "3m", "--through", "taking-lens", *OUT), "--lens"),
        (("mark", "a", "--at", "3m", "--through", "own-lens", *OUT), "needs exactly one"),
        (("mark", "a", "--at", "3m", *OUT, "--feed-out", "p.toml"), "two files"),
        (("mark", "a", "--at", "3m", "--out", "nowhere/p.toml"), "no folder nowhere"),
        (("lens", *LENS, "--size", "640x360", "--name", "x" * 201, *OUT), "--name"),
        (("lens", *LENS, "--size", "640x360", "--sensor", "0.2x0.1", *OUT), "0.5 to 1000 mm"),
        (("view", "--size", "640x360", "--vertical", "9", "--name", "x" * 201, *OUT), "--name"),
    ],
)
def test_mistakes_are_told(arguments, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run(*arguments)
    assert isinstance(result.exception, UserError)
    assert message in str(result.exception)


@pytest.mark.parametrize(
    ("arguments", "choices"),
    [
        (("print-board", "x.png", "--kind", "dots"), "'charuco', 'chessboard'"),
        (("mark", "a", "--at", "3m", "--measured", "shoe", *OUT), "'floor', 'face', 'axis'"),
        (("lens", *LENS, "--size", "640x360", "--rotate", "45", *OUT), "'0', '90', '180', '270'"),
    ],
)
def test_a_wrong_choice_lists_the_right_ones(arguments, choices, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "200")
    result = run(*arguments)
    assert result.exit_code == 2
    assert choices in result.output


@pytest.mark.parametrize(
    ("along", "pixels"), [("horizontal", 1280), ("vertical", 720), ("diagonal", 1468.6)]
)
def test_a_stated_view_becomes_a_profile(tmp_path, along, pixels):
    """In any direction: half the side over the tangent of half the angle."""
    out = tmp_path / "feed.toml"
    result = run("view", "--size", "1280x720", f"--{along}", "60deg", "--out", out)
    assert result.exit_code == 0, result.output
    kept = feed_profile.load(out)
    assert kept.fx_px == pytest.approx(pixels / 2 / math.tan(math.radians(30)), rel=1e-4)
    assert (kept.method, kept.version, kept.basis) == (
        "field of view", 1, f"{along} view 60 degrees",
    )  # fmt: skip
    assert kept.learned_at.tzinfo is not None
    again = run("view", "--size", "1280x720", f"--{along}", "70deg", "--out", out)
    assert isinstance(again.exception, UserError)
    assert feed_profile.load(out) == kept
    replaced = run("view", "--size", "1280x720", f"--{along}", "70deg", "--out", out, "--replace")
    assert replaced.exit_code == 0
    assert feed_profile.load(out).fx_px < kept.fx_px


@pytest.mark.parametrize(("focus", "extension"), [("inf", 1.0), ("1m", 1.0557), ("20cm", 2.0)])
def test_a_focused_lens_stands_further_out(tmp_path, focus, extension):
    """50 mm: v / f = s / (s - f) with s from D = s + v; at four focal lengths twice as far."""
    out = tmp_path / "feed.toml"
    result = run("lens", "--size", "1920x1080", "--lens", "50mm", "--focus", focus, "--out", out)
    assert result.exit_code == 0, result.output
    kept = feed_profile.load(out)
    assert kept.fx_px == pytest.approx(50 / 36 * 1920 * extension, rel=1e-4)
    breathing = (extension - 1) / math.sqrt(2)  # the view may as well not narrow
    assert kept.focal_sd == pytest.approx(math.hypot(0.025, breathing), rel=1e-3)


def test_stated_bars_are_taken_as_stated(tmp_path):
    out = tmp_path / "feed.toml"
    result = run("lens", "--size", "1920x1080", *LENS, "--area", "1620x1080", "--out", out)
    assert result.exit_code == 0, result.output
    assert "black bars as stated of 150 and 150 px" in result.output
    kept = feed_profile.load(out)
    assert kept.bars_px == (150, 0, 150, 0)
    assert kept.picture_in(1280, 720) == (100, 0, 1080, 720)
    with pytest.raises(UserError, match="another shape"):
        kept.picture_in(1080, 720)


def test_a_dark_feed_is_not_guessed_at(tmp_path):
    dark = tmp_path / "dark.png"
    cv2.imwrite(str(dark), np.full((360, 640, 3), 3, np.uint8))
    result = run("lens", dark, *LENS, "--out", tmp_path / "feed.toml")
    assert isinstance(result.exception, UserError)
    assert str(result.exception).startswith("not sure whether the feed has black bars")
    assert not (tmp_path / "feed.toml").exists()


@pytest.fixture
def at_the_mark(monkeypatch):
    """Somebody turns on a mark before a camera tilted by 12 degrees; returns the tape's length."""
    seen = marks.Standing(12.0)
    pictures = [(k / 5, pose) for k, pose in enumerate(seen.poses * 3)]
    monkeypatch.setattr(at_marks, "is_camera", lambda *_: False)
    monkeypatch.setattr(at_marks, "watch", lambda *_: (pictures, marks.CAMERA, 0))
    return f"{marks.FLOOR_M}m", f"{marks.HEIGHT_M}m", seen


VIEW = ("--field-of-view", "66.4deg")


@pytest.mark.parametrize(
    ("how", "told"),
    [
        (("--tilt", "12deg"), "tilt 12.0 degrees as given"),
        (("--camera-height", "1.5m"), "by where the feet are"),
        ((), "assumed to be level"),
    ],
)
def test_a_mark_says_which_tilt_it_took(at_the_mark, tmp_path, how, told):
    floor, _, seen = at_the_mark
    out = tmp_path / "me.toml"
    result = run("mark", "clip.mp4", "--at", floor, *VIEW, *how, "--out", out)
    assert result.exit_code == 0, result.output
    assert "measured along the floor" in result.output
    assert told in result.output
    if how:
        [kept] = personal.load(out).marks
        assert kept.depth_m == pytest.approx(np.median(seen.axis_m), rel=0.01)


@pytest.mark.parametrize(
    ("view", "why"),
    [
        (VIEW, "your feet were hardly in view"),
        ((), "without a lens, angle of view or feed profile"),
    ],
)
def test_a_height_that_told_no_tilt_is_not_asked_for_again(
    at_the_mark, tmp_path, monkeypatch, view, why
):
    floor, height, seen = at_the_mark
    unseen = np.ones(COUNT)
    unseen[Landmark.LEFT_ANKLE :] = 0.0
    pictures = [(k / 5, replace(pose, visibility=unseen)) for k, pose in enumerate(seen.poses * 3)]
    monkeypatch.setattr(at_marks, "watch", lambda *_: (pictures, marks.CAMERA, len(pictures)))
    given = ("--at", floor, *view, "--camera-height", height, "--stature", "1.69m")
    result = run("mark", "clip.mp4", *given, "--out", tmp_path / "me.toml")
    assert result.exit_code == 0, result.output
    assert why in result.output
    assert "or --camera-height" not in result.output
    half = f"{len(pictures)} of {2 * len(pictures)} pictures were left out: "
    assert f"{half}in {len(pictures)} no one was seen" in result.output


def test_a_tilt_that_the_feet_contradict_is_told(at_the_mark, tmp_path):
    floor, height, _ = at_the_mark
    result = run(
        "mark", "clip.mp4", "--at", floor, *VIEW, "--tilt", "4", "--camera-height", height,
        "--out", tmp_path / "me.toml",
    )  # fmt: skip
    assert "tilts of 12." in result.output or "tilts of 11." in result.output


def test_what_could_not_be_told_apart_is_not_kept_as_known(at_the_mark, tmp_path):
    floor, _, _ = at_the_mark
    alone, both, feed = (tmp_path / f"{name}.toml" for name in ("alone", "both", "feed"))
    result = run("mark", "clip.mp4", "--at", floor, "--tilt", "12", "--out", alone)
    assert "could not be told apart" in result.output
    assert "with --feed-out FILE, and both profiles used" in result.output
    assert personal.load(alone).scale_sd > 0.04
    result = run(
        "mark", "clip.mp4", "--at", floor, "--tilt", "12", "--out", both, "--feed-out", feed
    )
    assert "belong together" in result.output
    assert personal.load(both).scale_sd < 0.03
    assert feed_profile.load(feed).focal_sd > 0.04
    again = run(
        "mark", "clip.mp4", "--at", floor, "--tilt", "12", "--out", tmp_path / "new.toml",
        "--feed-out", feed,
    )  # fmt: skip
    assert isinstance(again.exception, UserError)
    assert not (tmp_path / "new.toml").exists()


def test_bars_stay_known_when_the_marks_refine_the_focal_length(at_the_mark, tmp_path):
    floor, _, _ = at_the_mark
    first, second = tmp_path / "first.toml", tmp_path / "second.toml"
    size = ("--size", "1920x1440", "--area", "1440x1440")
    assert run("view", *size, "--vertical", "66.4", "--out", first).exit_code == 0
    result = run(
        "mark", "clip.mp4", "--at", floor, "--tilt", "12", "--feed-profile", first,
        "--out", tmp_path / "me.toml", "--feed-out", second,
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert feed_profile.load(second).bars_px == (240, 0, 240, 0)
