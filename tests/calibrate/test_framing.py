import numpy as np
import pytest

from assist.calibrate.framing import PictureArea, camera_of_output, find_picture
from assist.errors import UserError
from optics.camera import PinholeCamera
from optics.sensor import Sensor

FULL_FRAME = Sensor.from_mm(36, 24)


def scene(width, height, area, seed=0):
    random = np.random.default_rng(seed)
    picture = random.integers(0, 12, (height, width, 3)).astype(np.uint8)
    inner = random.integers(0, 255, (area.height_px, area.width_px, 3))
    picture[
        area.top_px : area.top_px + area.height_px, area.left_px : area.left_px + area.width_px
    ] = inner
    return picture


@pytest.mark.parametrize(
    "area",
    [
        PictureArea(0, 0, 1920, 1080),
        PictureArea(150, 0, 1620, 1080),
        PictureArea(0, 132, 1920, 816),
        PictureArea(656, 0, 608, 1080),
    ],
)
def test_bars_are_found(area):
    assert find_picture([scene(1920, 1080, area)]) == area


def test_a_dark_wall_at_one_side_is_no_bar():
    picture = scene(1920, 1080, PictureArea(0, 0, 1920, 1080))
    picture[:, :200] = 5
    assert find_picture([picture]).width_px == 1920


def test_darkness_is_refused():
    with pytest.raises(UserError, match="too dark"):
        find_picture([np.zeros((1080, 1920, 3), np.uint8)])


def test_full_width_agrees_with_the_lens_without_bars():
    camera = camera_of_output(FULL_FRAME, 0.05, 3.0, 1920, 1080, PictureArea(0, 0, 1920, 1080))
    assert camera == PinholeCamera.from_lens(FULL_FRAME, 0.05, 3.0, 1920, 1080)


def test_whole_frame_between_bars_shows_the_same_angles():
    """A 3:2 picture in the middle of a 16:9 feed: 36 mm over its 1620 pixels, not over 1920."""
    area = PictureArea(150, 0, 1620, 1080)
    camera = camera_of_output(FULL_FRAME, 0.05, 3.0, 1920, 1080, area)
    v = 0.05 * 3.0 / (3.0 - 0.05)
    assert camera.fx_px == pytest.approx(v / 0.036 * 1620)
    assert camera.cx_px == 960
    edges = camera.normalised([[150.0, 540.0], [1770.0, 540.0]])[:, 0] * v
    assert edges == pytest.approx([-0.018, 0.018])


def test_picture_narrower_than_the_sensor_shows_its_whole_height():
    area = PictureArea(240, 0, 1440, 1080)
    camera = camera_of_output(FULL_FRAME, 0.05, 3.0, 1920, 1080, area)
    assert camera.fy_px == pytest.approx(0.05 * 3.0 / 2.95 / 0.024 * 1080)


def test_crop_narrows_the_view():
    area = PictureArea(0, 0, 1920, 1080)
    whole = camera_of_output(FULL_FRAME, 0.05, 3.0, 1920, 1080, area)
    part = camera_of_output(FULL_FRAME, 0.05, 3.0, 1920, 1080, area, crop=1.5)
    assert part.fx_px == pytest.approx(1.5 * whole.fx_px)
