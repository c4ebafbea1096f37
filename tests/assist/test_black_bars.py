"""Black bars around the shipped clip's pictures: found to the pixel, or doubted, never invented."""

import cv2
import numpy as np
import pytest

from assist.base.errors import UserError
from assist.feed.black_bars import PictureArea, UnsureArea, find_picture, lit_outside
from assist.run import demo
from optics.camera import PinholeCamera
from optics.sensor import Sensor

FULL_FRAME = Sensor.from_mm(36, 24)


@pytest.fixture(scope="module")
def clip():
    """Three pictures of the shipped clip, 640x360."""
    capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
    pictures = []
    for index in range(241):
        _, picture = capture.read()
        if index in (60, 150, 240):
            pictures.append(cv2.resize(picture, (640, 360), interpolation=cv2.INTER_AREA))
    return pictures


def boxed(picture, feed_size, size, level=0):
    """The middle of the picture, cut to the shape of `size`, on a black feed."""
    height, width = picture.shape[:2]
    across = min(width, round(height * size[0] / size[1]))
    down = min(height, round(width * size[1] / size[0]))
    x, y = (width - across) // 2, (height - down) // 2
    inner = cv2.resize(picture[y : y + down, x : x + across], size, interpolation=cv2.INTER_AREA)
    feed = np.full((feed_size[1], feed_size[0], 3), level, np.uint8)
    area = PictureArea.centred(*size, *feed_size)
    feed[area.top_px : area.top_px + size[1], area.left_px : area.left_px + size[0]] = inner
    return feed


def compressed(picture, quality, seed=0):
    """With noise and JPEG's ringing."""
    noise = np.random.default_rng(seed).normal(0, 2, picture.shape)
    noisy = np.clip(picture + noise, 0, 255).astype(np.uint8)
    return cv2.imdecode(cv2.imencode(".jpg", noisy, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], 1)


LETTERBOX = ((640, 480), (640, 360))
PILLARBOX = ((640, 360), (540, 360))
WINDOWBOX = ((960, 540), (640, 360))
UPRIGHT = ((960, 540), (360, 540))


@pytest.mark.parametrize("level", [0, 16])
@pytest.mark.parametrize(("feed", "size"), [LETTERBOX, PILLARBOX, WINDOWBOX, UPRIGHT])
def test_bars_are_found_to_the_pixel(clip, feed, size, level):
    expected = PictureArea.centred(*size, *feed)
    pictures = [boxed(p, feed, size, level) for p in clip]
    assert find_picture(pictures) == expected
    found = find_picture([compressed(p, 70, k) for k, p in enumerate(pictures)])
    assert abs(found.width_px - expected.width_px) <= 2
    assert abs(found.height_px - expected.height_px) <= 2


def test_a_feed_without_bars(clip):
    whole = PictureArea(0, 0, 640, 360)
    assert find_picture(clip) == whole
    assert find_picture([compressed(p, 30) for p in clip]) == whole


def test_signs_written_into_the_bars_do_not_hide_them(clip):
    feed, size = PILLARBOX
    pictures = [boxed(p, feed, size) for p in clip]
    for picture in pictures:
        picture[10:40, 8:40] = 220
    assert find_picture(pictures) == PictureArea.centred(*size, *feed)


@pytest.mark.parametrize("side", [np.s_[:, :120], np.s_[:, 520:], np.s_[:80], np.s_[280:]])
def test_a_dark_wall_at_one_side_is_no_bar(clip, side):
    pictures = [p.copy() for p in clip]
    for picture in pictures:
        picture[side] = 4
    assert find_picture(pictures) == PictureArea(0, 0, 640, 360)


def leaning_walls(picture):
    """Dark to both sides with borders that are not upright."""
    picture = picture.copy()
    cv2.fillPoly(picture, [np.array([[0, 0], [60, 0], [150, 360], [0, 360]])], (5, 6, 4))
    cv2.fillPoly(picture, [np.array([[640, 0], [580, 0], [490, 360], [640, 360]])], (5, 6, 4))
    return picture


def walls_apart(picture):
    picture = picture.copy()
    picture[:, :100], picture[:, 500:] = 5, 5
    return picture


def uneven_walls(picture):
    """Upright borders alike on both sides, but of something that is not one black."""
    picture = picture.copy()
    shade = np.tile(np.linspace(0, 26, 50)[:, None], (360, 1, 3)).astype(np.uint8)
    picture[:, :50], picture[:, 590:] = shade, shade
    return picture


def odd_shape(picture):
    return boxed(picture, (640, 360), (430, 360))


def spotlight(picture):
    y, x = np.mgrid[0:360, 0:640]
    lit = np.exp(-((x - 320) ** 2 + (y - 180) ** 2) / (2 * 120.0**2))[..., None]
    return (picture * lit).astype(np.uint8)


@pytest.mark.parametrize("scene", [leaning_walls, walls_apart, uneven_walls, odd_shape, spotlight])
def test_a_dark_scene_is_doubted_and_never_eaten(clip, scene):
    for pictures in ([scene(p) for p in clip], [compressed(scene(p), 70) for p in clip]):
        found = find_picture(pictures)
        assert isinstance(found, UnsureArea)
        assert found.why


@pytest.mark.parametrize("share", [1.0, 0.25, 0.1, 0.02, 0.0])
@pytest.mark.parametrize(("feed", "size"), [LETTERBOX, PILLARBOX])
def test_less_light_makes_it_doubt_and_never_wrong(clip, feed, size, share):
    pictures = [boxed((p * share).astype(np.uint8), feed, size) for p in clip]
    found = find_picture(pictures)
    if isinstance(found, PictureArea):
        assert abs(found.width_px - size[0]) <= 2
        assert abs(found.height_px - size[1]) <= 2
    if share <= 0.02:
        assert isinstance(found, UnsureArea)


def test_one_lit_picture_among_dark_ones_is_enough(clip):
    feed, size = PILLARBOX
    dark = np.zeros((feed[1], feed[0], 3), np.uint8)
    assert find_picture([dark, boxed(clip[0], feed, size), dark]) == PictureArea.centred(
        *size, *feed
    )


def test_whole_frame_between_bars_shows_the_same_angles():
    """A 3:2 picture in the middle of a 16:9 feed: 36 mm over its 1620 pixels, not over 1920."""
    camera = PinholeCamera.from_lens(FULL_FRAME, 0.05, 3.0, 1620, 1080)
    v = 0.05 * 3.0 / (3.0 - 0.05)
    assert camera.fx_px == pytest.approx(v / 0.036 * 1620)
    assert camera.cx_px == 810
    edges = camera.normalised([[0.0, 540.0], [1620.0, 540.0]])[:, 0] * v
    assert edges == pytest.approx([-0.018, 0.018])


def test_picture_narrower_than_the_sensor_shows_its_whole_height():
    camera = PinholeCamera.from_lens(FULL_FRAME, 0.05, 3.0, 1440, 1080)
    assert camera.fy_px == pytest.approx(0.05 * 3.0 / 2.95 / 0.024 * 1080)


def test_upright_picture_shows_the_sensor_on_its_side():
    camera = PinholeCamera.from_lens(FULL_FRAME, 0.05, 3.0, 720, 1080)
    assert camera.fy_px == pytest.approx(0.05 * 3.0 / 2.95 / 0.036 * 1080)


def test_crop_narrows_the_view():
    whole = PinholeCamera.from_lens(FULL_FRAME, 0.05, 3.0, 1920, 1080)
    part = PinholeCamera.from_lens(FULL_FRAME, 0.05, 3.0, 1920, 1080, crop=1.5)
    assert part.fx_px == pytest.approx(1.5 * whole.fx_px)


def test_a_picture_larger_than_its_feed():
    with pytest.raises(UserError, match="does not fit"):
        PictureArea.centred(1921, 1080, 1920, 1080)


def test_light_in_the_bars_is_seen_and_noise_and_signs_are_not():
    area = PictureArea(80, 60, 480, 270)
    rng = np.random.default_rng(2)
    feed = np.clip(rng.normal(20, 9, (390, 640, 3)), 0, 255).astype(np.uint8)
    feed[60:330, 80:560] = 120
    assert not lit_outside(feed, area)
    feed[10:40, 20:60] = 255  # a sign
    assert not lit_outside(feed, area)
    for lit in (np.s_[:, :70], np.s_[:, 570:], np.s_[:50], np.s_[340:]):
        other = feed.copy()
        other[lit] = 90
        assert lit_outside(other, area)
    assert not lit_outside(feed, PictureArea(0, 0, 640, 390))
