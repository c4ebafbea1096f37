"""A feed that mirrors its own picture: stated, put right, and asked for where it is not stated."""

import cv2
import numpy as np
import pytest

from assist.feed.opening import frames_of, open_feed
from assist.guidance.assistant import Known
from assist.run import assumptions
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from assist.setup.set_up import from_values, load, to_toml
from optics.camera import PinholeCamera

LENS = {"focal_length_mm": 35, "f_number": 4, "focus_distance_m": 4.0}


@pytest.fixture
def folder(tmp_path):
    """A feed of pictures that are light on the left, as it delivers them."""
    picture = np.zeros((60, 80, 3), np.uint8)
    picture[:, :20] = 200
    for name in "ab":
        cv2.imwrite(str(tmp_path / f"{name}.png"), picture)
    return tmp_path


def lit(frame):
    """Which side is light."""
    return "left" if frame.picture[:, :20].mean() > frame.picture[:, -20:].mean() else "right"


def test_pictures_are_turned_round_where_it_is_stated(folder):
    source = open_feed(str(folder), mirrored=True)
    assert lit(source.read()) == "right"
    source.close()
    assert lit(open_feed(str(folder)).read()) == "left"
    assert [lit(f) for f in frames_of(str(folder), 0, 1.0, mirrored=True)] == ["right", "right"]


def test_set_up_keeps_it_and_the_run_says_so(tmp_path):
    set_up = from_values({"lens": LENS, "feed": {"mirrored": True}})
    path = tmp_path / "set-up.toml"
    path.write_text(to_toml(set_up))
    assert load(path).feed.mirrored
    assert FeedGeometry.of(set_up).mirrored
    assert "mirrored" in assumptions.in_one_line(set_up, Known())
    assert "mirrored" not in assumptions.in_one_line(from_values({"lens": LENS}), Known())


def test_a_profile_is_of_the_picture_as_delivered():
    camera = PinholeCamera(1280, 720, 1000.0, 1000.0, 600.0, 350.0, (0.1, 0.0, 0.01, 0.02, 0.0))
    profile = FeedProfile.of_camera(camera, "board", 0.003).model_copy(update={"mirrored": True})
    geometry = FeedGeometry.of(from_values({"lens": LENS}), profile)
    assert geometry.mirrored
    seen = geometry.camera(1280, 720)
    points = np.array([[0.3, 0.2, 4.0], [-0.5, 0.1, 3.0]])
    turned = camera.project(points * [-1, 1, 1])
    assert seen.project(points) == pytest.approx(
        np.column_stack([1280 - turned[:, 0], turned[:, 1]])
    )
