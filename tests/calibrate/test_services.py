"""The calibrations called from Python: what they give, tell as they go, and refuse."""

import math
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from assist.base.closing import Closing
from assist.base.errors import UserError
from assist.calibrate import at_marks, marks_told
from assist.calibrate.at_marks import (
    MarkEvents,
    MarksRequest,
    holding_of,
    learn_at_marks,
    mark_place,
)
from assist.calibrate.board import Board
from assist.calibrate.board_watch import board_of, fits_home_paper, learn_from_board
from assist.calibrate.feed_stated import (
    StatedLens,
    framed_feed,
    from_lens,
    from_view,
    stated_view,
)
from assist.feed import Frame
from assist.setup.stated import feed_from
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose
from tests.calibrate.test_board import CAMERA, TILTED, seen

GEOMETRY, _ = feed_from(None, {"feed.horizontal_field_of_view_deg": "65deg"})


class Network(Closing):
    """Sees somebody at 3 m who turns a little."""

    def detect(self, picture, time_s):
        camera = PinholeCamera.from_field_of_view(math.radians(65), 1280, 720)
        return [standing_pose(camera, 3.0, turn_deg=10 * math.sin(time_s))]

    def close(self):
        pass


@pytest.fixture
def camera(monkeypatch):
    """Six seconds of a camera; how often it was opened and closed."""
    counts = SimpleNamespace(opened=0, closed=0)

    def opened(name, rotation_deg=0):
        counts.opened += 1
        picture = np.zeros((720, 1280, 3), np.uint8)
        frames = iter([Frame(picture, i / 10, i) for i in range(60)])

        def close():
            counts.closed += 1

        return SimpleNamespace(
            live=True, frames_expected=None, rate_hz=10.0, close=close,
            read=lambda: next(frames, None),
        )  # fmt: skip

    monkeypatch.setattr("assist.feed.open_source", opened)
    monkeypatch.setattr(at_marks, "MediaPipePoseDetector", Network)
    return counts


def test_a_body_is_learned_at_a_mark_and_told_as_it_goes(camera, capsys):
    happened = []
    events = MarkEvents(
        walk=lambda place: happened.append(place.stated),
        watching=lambda: happened.append("watching"),
    )
    request = MarksRequest(["0"], [mark_place("3m")], GEOMETRY, seconds=2.0, wait_s=0.0)
    done = learn_at_marks(request, events)
    assert happened == ["3m", "watching"]
    assert done.profile(with_feed=False).scale == pytest.approx(1.0, abs=0.05)
    assert done.attitude.source == "assumed"
    assert done.feed_profile().method == "mark"
    lines = list(marks_told.lines(done, "me.toml", None))
    assert lines[0].startswith("measured along the floor from below the camera: the body at depth")
    assert lines[-1] == "the profile is in me.toml"
    assert capsys.readouterr() == ("", "")
    assert camera.opened == camera.closed


def test_an_interrupt_closes_what_is_open(camera):
    def interrupted():
        raise KeyboardInterrupt

    request = MarksRequest(["0"], [mark_place("3m")], GEOMETRY, seconds=2.0, wait_s=0.0)
    with pytest.raises(KeyboardInterrupt):
        learn_at_marks(request, MarkEvents(watching=interrupted))
    assert camera.opened == camera.closed == 2


def test_what_makes_no_sense_is_refused_before_anything_is_opened(camera):
    place = mark_place("3m")
    with pytest.raises(UserError, match="2 feeds for 1 marks"):
        MarksRequest(["0", "1"], [place], GEOMETRY)
    with pytest.raises(UserError, match=r"at least 0\.3 m before"):
        MarksRequest(["0"], [mark_place("0.2m")], GEOMETRY)
    with pytest.raises(UserError, match="--roll must be within 45"):
        holding_of(GEOMETRY, roll="50")
    assert mark_place("3m,1.2m").across_m == 1.2
    assert holding_of(GEOMETRY, tilt="12deg").tilt_rad == pytest.approx(math.radians(12))
    assert camera.opened == 0


def test_a_board_is_learned_from_a_folder_of_pictures(tmp_path):
    for k, view in enumerate(TILTED):
        cv2.imwrite(str(tmp_path / f"{k:02d}.png"), seen(Board("charuco", 8, 6, 30.0), *view))
    learned = learn_from_board(board_of("charuco", "8x6", "30mm"), str(tmp_path), every_s=0.0)
    assert learned.profile().fx_px == pytest.approx(CAMERA.fx_px, rel=0.01)
    assert "reprojection error" in learned.in_words()
    with pytest.raises(UserError, match="write it as 8x6"):
        board_of("charuco", "eight", "30mm")
    assert fits_home_paper(200, 270)
    assert not fits_home_paper(270, 220)


def test_a_lens_and_a_view_are_worked_out():
    framed = framed_feed(None, size="1920x1080", area="1620x1080")
    assert framed.bars_px == (150, 0, 150, 0)
    lens = from_lens(StatedLens("36mm", "inf"), framed, "mine")
    assert (lens.profile.name, lens.profile.method) == ("mine", "lens")
    assert lens.camera.fx_px == pytest.approx(1620, rel=0.01)
    bars, shows, stands, trust = lens.in_words()
    assert "150 and 150 px left and right" in bars
    assert shows == "its width shows the sensor's 36 mm"
    assert stands.startswith("focused there, a lens of 36 mm stands 36.0")
    assert "engraved" in trust
    view = from_view(stated_view("horizontal", "90deg"), framed_feed(None, size="1280x720"))
    assert view.camera.fx_px == pytest.approx(640)
    with pytest.raises(UserError, match="--focus"):
        StatedLens("36mm", "soon")
    with pytest.raises(UserError, match="one only"):
        framed_feed("0", size="1280x720")
