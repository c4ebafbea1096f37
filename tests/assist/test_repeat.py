"""Repeating a session: the camera against known turns, the ghost, the choice of picture."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage

from assist.assistant import Assistant
from assist.errors import UserError
from assist.feed import Frame
from assist.guidance import Action
from assist.phrases import Phrases
from assist.repeat import earlier
from assist.repeat.camera_shift import CameraShift, ShiftFinder
from assist.repeat.ghost import Ghost
from assist.repeat.guide import RepeatGuide
from assist.repeat.words import to_do
from assist.session import Session
from optics.camera import PinholeCamera
from tests.assist.footage import SET_UP as SEEN_BY
from tests.assist.footage import PlacedDetector
from tests.assist.synthetic import standing_pose
from tests.assist.test_session import SET_UP, attempt

DATA = Path(skimage.__file__).parent / "data"
FOCAL_PX = 1500.0
ENGLISH = Phrases.load()


def photograph():
    """A real photograph that scikit-image carries, at the size of a feed."""
    return cv2.resize(cv2.imread(str(DATA / "motorcycle_left.png")), (1280, 860))


def seen_after(picture, pan_deg=0.0, tilt_deg=0.0, roll_deg=0.0, zoom=1.0):
    """The scene after the camera turned, by OpenCV's own rotations (Rodrigues) and warp.

    In the camera's frame (x right, y down, z forward), panning right turns about +y, tilting up
    about +x, rolling clockwise as seen from behind about +z; points turn the other way.
    """
    height, width = picture.shape[:2]
    k = np.array([[FOCAL_PX, 0, (width - 1) / 2], [0, FOCAL_PX, (height - 1) / 2], [0, 0, 1]])
    after = k.copy()
    after[0, 0] = after[1, 1] = FOCAL_PX * zoom
    turn = np.eye(3)
    for axis, degrees in ((1, pan_deg), (0, tilt_deg), (2, roll_deg)):
        vector = np.zeros(3)
        vector[axis] = np.radians(degrees)
        turn = cv2.Rodrigues(-vector)[0] @ turn
    return cv2.warpPerspective(
        picture, after @ turn @ np.linalg.inv(k), (width, height), borderMode=cv2.BORDER_REFLECT
    )


@pytest.mark.parametrize(
    "change",
    [
        {"pan_deg": 2.0}, {"pan_deg": -0.8}, {"tilt_deg": 1.5}, {"tilt_deg": -2.5},
        {"roll_deg": 1.2}, {"roll_deg": -3.0}, {"zoom": 1.08}, {"zoom": 0.93},
        {"pan_deg": 1.5, "tilt_deg": -1.0, "roll_deg": 0.7, "zoom": 1.04},
    ],
)  # fmt: skip
def test_turns_and_zooms_are_found(change):
    picture = photograph()
    finder = ShiftFinder(picture, None, FOCAL_PX)
    rng = np.random.default_rng(0)
    now = seen_after(picture, **change).astype(np.float32) * 0.8 + rng.normal(0, 4, picture.shape)
    found = finder.compare(np.clip(now, 0, 255).astype(np.uint8), None)
    for name in ("pan_deg", "tilt_deg", "roll_deg"):
        assert getattr(found, name) == pytest.approx(change.get(name, 0.0), abs=0.1), name
    assert found.zoom == pytest.approx(change.get("zoom", 1.0), abs=0.004)
    assert not found.moved
    assert not found.same


def test_the_same_scene_is_the_same():
    picture = photograph()
    found = ShiftFinder(picture, None, FOCAL_PX).compare(picture, None)
    assert found.same
    assert to_do(found, ENGLISH) == ("camera as before",)


def test_a_camera_that_moved_is_told_from_one_that_turned():
    """A real stereo pair (scikit-image's motorcycle): two places, one direction."""
    left = cv2.imread(str(DATA / "motorcycle_left.png"))
    right = cv2.imread(str(DATA / "motorcycle_right.png"))
    found = ShiftFinder(left, None, 994.0).compare(right, None)
    assert found.moved
    assert "tripod" in to_do(found, ENGLISH)[0]


def test_another_scene_is_not_recognised():
    other = cv2.resize(cv2.imread(str(DATA / "coffee.png")), (1280, 860))
    assert ShiftFinder(photograph(), None, FOCAL_PX).compare(other, None) is None


@pytest.mark.parametrize(
    ("shift", "english", "german"),
    [
        (CameraShift(1.0, 0, 0, 1.0, False, 99), "turn the camera 1.0\u00b0 to its left",
         "Kamera um 1,0\u00b0 nach ihrer linken Seite drehen"),
        (CameraShift(-1.0, 0, 0, 1.0, False, 99), "turn the camera 1.0\u00b0 to its right",
         "Kamera um 1,0\u00b0 nach ihrer rechten Seite drehen"),
        (CameraShift(0, -2.0, 0, 1.0, False, 99), "tilt the camera 2.0\u00b0 up",
         "Kamera um 2,0\u00b0 nach oben neigen"),
        (CameraShift(0, 2.0, 0, 1.0, False, 99), "tilt the camera 2.0\u00b0 down",
         "Kamera um 2,0\u00b0 nach unten neigen"),
        (CameraShift(0, 0, 0.5, 1.0, False, 99), "roll the camera 0.5\u00b0 anticlockwise",
         "Kamera um 0,5\u00b0 gegen den Uhrzeigersinn rollen"),
        (CameraShift(0, 0, -0.5, 1.0, False, 99), "roll the camera 0.5\u00b0 clockwise",
         "Kamera um 0,5\u00b0 im Uhrzeigersinn rollen"),
        (CameraShift(0, 0, 0, 0.97, False, 99), "zoom in by 3.0 %", "um 3,0 % heranzoomen"),
        (CameraShift(0, 0, 0, 1.03, True, 99),
         "the camera has moved: put the tripod back on its marks; zoom out by 3.0 %",
         "die Kamera steht woanders: Stativ zur\u00fcck auf seine Marken; um 3,0 % wegzoomen"),
        (CameraShift(0, 0, 0, 1.0, False, 99), "camera as before", "Kamera wie damals"),
        (None, "earlier scene not recognised: check place and light",
         "fr\u00fchere Szene nicht erkannt: Ort und Licht pr\u00fcfen"),
    ],
)  # fmt: skip
def test_what_to_do_undoes_the_difference_in_each_language(shift, english, german):
    assert "; ".join(to_do(shift, ENGLISH)) == english
    assert "; ".join(to_do(shift, Phrases.load("de"))) == german


CAMERA = PinholeCamera.from_focal_length_px(1200, 1280, 720)


def ghosted(ghost, feed):
    picture = feed.copy()
    ghost.over(picture)
    return picture


@pytest.mark.parametrize(
    ("zoom", "sure"), [(1.0, True), (1.015, True), (1.11, False), (0.9, False)]
)
def test_nobody_is_in_focus_by_a_zoom_that_is_not_that_of_then(zoom, sure):
    then = earlier.Earlier(attempt(1), photograph(), None)
    guide = RepeatGuide(then, FOCAL_PX, ENGLISH)
    guide.shift = CameraShift(0.0, 0.0, 0.0, zoom, False, 100)
    assistant = Assistant(SEEN_BY, PlacedDetector(lambda _: 4.0))
    assistant.focal_doubted = guide.zoomed
    for k in range(20):
        moment = assistant.see(Frame(np.zeros((360, 640, 3), np.uint8), k / 10, k))
    assert moment.readiness.in_focus is sure
    assert (moment.guidance.action is Action.HOLD) is sure
    assert (moment.guidance.why == ENGLISH.text("why.zoom")) is not sure
    guide.close()


def test_ghost_is_an_outline_whose_strength_can_be_changed():
    pose = standing_pose(CAMERA, 4.0)
    ghost = Ghost(np.full((720, 1280, 3), 90, np.uint8), pose, 0.6)
    feed = np.full((720, 1280, 3), 120, np.uint8)
    drawn = ghosted(ghost, feed).astype(int) - 120
    touched = (drawn != 0).any(axis=2)
    assert 0.002 < touched.mean() < 0.06  # an outline, not a filled figure
    x, y = pose.middle_px(11, 12).astype(int)
    assert not touched[y + 30, x]  # open inside, so that the person shows through
    ghost.change(0.2)
    assert abs(ghosted(ghost, feed).astype(int) - 120).max() > abs(drawn).max()
    ghost.change(-5)
    assert ghost.strength == 0
    assert (ghosted(ghost, feed) == feed).all()


def test_ghost_fits_a_feed_of_another_size():
    pose = standing_pose(CAMERA, 4.0)
    ghost = Ghost(np.full((720, 1280, 3), 90, np.uint8), pose)
    small = ghosted(ghost, np.zeros((360, 640, 3), np.uint8))
    rows = np.flatnonzero(small.any(axis=(1, 2)))
    assert pose.image_px[0, 1] / 2 - 40 < rows[0] < pose.image_px[0, 1] / 2


def kept(folder, *numbers):
    with Session(folder, SET_UP) as session:
        for number in numbers:
            session.append(attempt(number))
            cv2.imwrite(str(folder / f"picture-{number:04d}.png"), photograph())
    return folder


def test_choice_of_the_attempt(tmp_path):
    folder = kept(tmp_path / "one", 1, 2)
    assert earlier.choose(folder, 2)[0].attempt == 2
    assert earlier.choose(folder, None)[1].is_file()
    with pytest.raises(UserError, match="no picture of attempt 7"):
        earlier.choose(folder, 7)


def test_nothing_to_repeat(tmp_path):
    with pytest.raises(UserError, match="is not a session"):
        earlier.choose(tmp_path, None)
    with Session(tmp_path, SET_UP):
        pass
    with pytest.raises(UserError, match="no picture to repeat"):
        earlier.choose(tmp_path, None)


def test_guide_compares_on_its_own_thread_and_says_what_to_do(tmp_path):
    class NoOne:
        def detect(self, picture, time_s):
            return []

    found = earlier.load(kept(tmp_path, 1), None, NoOne())
    assert found.pose is None
    guide = RepeatGuide(found, FOCAL_PX, Phrases.load("de"))
    now = seen_after(photograph(), pan_deg=2.0)
    assert guide.words() == ()
    guide.watch(now, None, 0.0)
    guide._task.result(timeout=60)
    guide.watch(now, None, 0.1)
    assert guide.words() == ("Kamera um 2,0\u00b0 nach ihrer linken Seite drehen",)
    guide.close()
    guide.close()
