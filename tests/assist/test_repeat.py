"""Repeating a session: the camera against known turns, the ghost, the choice of picture."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage

from assist import cli
from assist.base.errors import UserError
from assist.base.words import Words
from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.guidance.camera_hints import CameraHint, Hint
from assist.guidance.guide import Action, Reason, Why
from assist.guidance.wording import camera_hint
from assist.review import export
from assist.review.checked import CheckedPicture, Sharpness
from assist.run.repeat import earlier
from assist.run.repeat.camera_shift import CameraShift, ShiftFinder
from assist.run.repeat.earlier import Earlier, NothingToShowError
from assist.run.repeat.ghost import Ghost
from assist.run.repeat.guide import RepeatGuide
from assist.run.repeat.hints import to_do
from assist.session.folder import Session
from optics.camera import PinholeCamera
from optics.sensor import FORMATS
from tests.assist.footage import SET_UP as SEEN_BY
from tests.assist.footage import PlacedDetector
from tests.assist.synthetic import standing_pose
from tests.assist.test_session import SET_UP, attempt

DATA = Path(skimage.__file__).parent / "data"
FOCAL_PX = 1500.0


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
    assert to_do(found) == (CameraHint(Hint.SAME),)


def test_a_camera_that_moved_is_told_from_one_that_turned():
    """A real stereo pair (scikit-image's motorcycle): two places, one direction."""
    left = cv2.imread(str(DATA / "motorcycle_left.png"))
    right = cv2.imread(str(DATA / "motorcycle_right.png"))
    found = ShiftFinder(left, None, 994.0).compare(right, None)
    assert found.moved
    assert to_do(found)[0].hint is Hint.MOVED


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
        (CameraShift(0, 0, 0.5, 1.0, False, 99), "tip the camera 0.5\u00b0 anticlockwise",
         "Kamera um 0,5\u00b0 gegen den Uhrzeigersinn kippen"),
        (CameraShift(0, 0, -0.5, 1.0, False, 99), "tip the camera 0.5\u00b0 clockwise",
         "Kamera um 0,5\u00b0 im Uhrzeigersinn kippen"),
        (CameraShift(0, 0, 0, 0.97, False, 99), "zoom in by 3.0 %", "um 3,0 % heranzoomen"),
        (CameraShift(0, 0, 0, 1.03, True, 99),
         "the camera has moved: put the tripod back on its marks; zoom out by 3.0 %",
         "die Kamera steht woanders: Stativ zur\u00fcck auf seine Marken; um 3,0 % herauszoomen"),
        (CameraShift(0, 0, 0, 1.0, False, 99), "camera as before", "Kamera wie damals"),
        (None, "earlier scene not recognised: check place and light",
         "fr\u00fchere Szene nicht erkannt: Ort und Licht pr\u00fcfen"),
    ],
)  # fmt: skip
def test_what_to_do_undoes_the_difference_in_each_language(shift, english, german):
    assert "; ".join(camera_hint(hint, Words()) for hint in to_do(shift)) == english
    assert "; ".join(camera_hint(hint, Words("de")) for hint in to_do(shift)) == german


CAMERA = PinholeCamera.from_focal_length_px(1200, 1280, 720)


def ghosted(ghost, feed):
    picture = feed.copy()
    ghost.over(picture)
    return picture


@pytest.mark.parametrize(
    ("zoom", "sure"), [(1.0, True), (1.015, True), (1.11, False), (0.9, False)]
)
def test_nobody_is_in_focus_by_a_zoom_that_is_not_that_of_then(zoom, sure):
    guide = RepeatGuide(Earlier(photograph(), None), lambda *_: FOCAL_PX)
    assert not guide.zoomed
    guide.found = CameraShift(0.0, 0.0, 0.0, zoom, False, 100)
    assistant = Assistant(SEEN_BY, PlacedDetector(lambda _: 4.0))
    assistant.focal_doubted = guide.zoomed
    for k in range(20):
        moment = assistant.see(Frame(np.zeros((360, 640, 3), np.uint8), k / 10, k))
    assert moment.readiness.in_focus is sure
    assert (moment.guidance.action is Action.HOLD) is sure
    assert (moment.guidance.why == Why(Reason.ZOOMED)) is not sure
    guide.close()


def test_ghost_is_an_outline_whose_strength_can_be_changed():
    pose = standing_pose(CAMERA, 4.0)
    ghost = Ghost(Earlier(np.full((720, 1280, 3), 90, np.uint8), pose), 0.6)
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
    ghost = Ghost(Earlier(np.full((720, 1280, 3), 90, np.uint8), pose))
    small = ghosted(ghost, np.zeros((360, 640, 3), np.uint8))
    rows = np.flatnonzero(small.any(axis=(1, 2)))
    assert pose.image_px[0, 1] / 2 - 40 < rows[0] < pose.image_px[0, 1] / 2


def kept(folder, *numbers):
    with Session(folder, SET_UP) as session:
        for number in numbers:
            session.append(attempt(number))
            cv2.imwrite(str(folder / f"picture-{number:04d}.png"), photograph())
    return folder


def by_camera(folder, *verdicts):
    """A session whose pictures the camera took by itself; one attempt for each word, reviewed."""
    review = folder / "review"
    pictures = []
    with Session(folder, SET_UP) as session:
        for number, verdict in enumerate(verdicts, start=1):
            alone = {"trigger": "none", "picture": None}
            session.append(attempt(number).model_copy(update=alone))
            review.mkdir(exist_ok=True)
            name = f"thumbnail-{number:04d}.jpg"
            cv2.imwrite(str(review / name), photograph())
            pictures.append(
                CheckedPicture(
                    file=f"card/{number}.jpg", attempt=number, verdict=verdict.value,
                    blur_px=2.0, thumbnail=name,
                )
            )  # fmt: skip
    (review / "review.json").write_bytes(export.pictures_json(pictures))
    return folder


class NoOne:
    def detect(self, picture, time_s):
        return []


def chosen(folder, number=None, own_lens=False):
    return earlier.choose(folder, number, own_lens=own_lens)


def test_choice_of_the_attempt(tmp_path):
    folder = kept(tmp_path / "one", 1, 2)
    assert chosen(folder, 2).attempt.attempt == 2
    assert chosen(folder).path.is_file()
    assert not chosen(folder, own_lens=True).of_camera
    with pytest.raises(UserError, match="no picture of attempt 7"):
        chosen(folder, 7)


def test_the_cameras_own_pictures_are_repeated_from_their_review(tmp_path):
    folder = by_camera(tmp_path, Sharpness.SOFT, Sharpness.SHARP)
    best = chosen(folder)
    assert (best.attempt.attempt, best.of_camera) == (2, True)
    found = earlier.load(best, SET_UP, NoOne())
    assert (found.sensor, found.crop) == (FORMATS["full-frame"], 1.0)
    best.path.unlink()
    assert chosen(folder).attempt.attempt == 1  # the best that has one
    with pytest.raises(UserError, match=r"no picture of attempt 2$"):
        chosen(folder, 2)


def test_a_feed_with_a_lens_of_its_own_shows_another_view_than_the_camera(tmp_path):
    folder = by_camera(tmp_path, Sharpness.SHARP)
    with pytest.raises(NothingToShowError, match=r"no picture to repeat .the camera's own is"):
        chosen(folder, own_lens=True)
    with pytest.raises(UserError, match=r"no picture of attempt 1 .* its own lens"):
        chosen(folder, 1, own_lens=True)


def test_nothing_to_repeat(tmp_path):
    with pytest.raises(UserError, match="is not a session"):
        earlier.check(tmp_path)
    with Session(tmp_path, SET_UP):
        pass
    earlier.check(tmp_path)
    with pytest.raises(NothingToShowError, match="no picture to repeat"):
        chosen(tmp_path)
    kept(tmp_path, 1)
    chosen(tmp_path).path.write_bytes(b"damaged")
    with pytest.raises(NothingToShowError, match="cannot be read"):
        earlier.load(chosen(tmp_path), SET_UP, NoOne())


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(
    ("picture_px", "feed_px", "crop"),
    [
        ((960, 640), (1280, 720), 1.0),
        ((960, 540), (1280, 720), 1.0),
        ((960, 540), (720, 480), 1.0),  # the feed shows more than a picture of 16:9
        ((6000, 4000), (1280, 720), 1.5),
        ((960, 640), (640, 480), 2.0),
    ],
)
def test_the_cameras_picture_is_brought_to_the_feeds_view(picture_px, feed_px, crop, upright):
    """Bodies and dots where the optics puts them for the camera are where it does for the feed."""
    if upright:
        picture_px, feed_px = picture_px[::-1], feed_px[::-1]
    sensor = FORMATS["full-frame"]
    camera = PinholeCamera.from_lens(sensor, 0.035, 4.0, *picture_px)
    feed = PinholeCamera.from_lens(sensor, 0.035, 4.0, *feed_px, crop)
    spot_m = (-0.2, 0.15, 4.0)
    picture = np.zeros((picture_px[1], picture_px[0], 3), np.uint8)
    x, y = camera.project(spot_m)
    cv2.circle(picture, (int(x), int(y)), picture_px[0] // 100, (255, 255, 255), -1)
    kept_picture = Earlier(picture, standing_pose(camera, 4.0), sensor, crop)
    seen = kept_picture.seen_by_feed(*feed_px)
    assert seen.picture.shape[1::-1] == feed_px
    wanted = standing_pose(feed, 4.0).image_px
    assert np.abs(seen.pose.image_px - wanted).max() < 0.01
    rows, columns = np.nonzero(seen.picture[..., 0] > 128)
    found = np.array([columns.mean(), rows.mean()]) + 0.5
    assert np.hypot(*(found - feed.project(spot_m))) < 2


def test_a_camera_held_the_other_way_shows_nothing(tmp_path):
    then = Earlier(photograph(), None, FORMATS["full-frame"])
    upright = np.full((1280, 720, 3), 120, np.uint8)
    assert (ghosted(Ghost(then), upright) == upright).all()
    told = said(then, lambda width, height: FOCAL_PX, upright)
    assert told.startswith("fr\u00fcheres Bild nicht gezeigt")


def said(then, focal_px, now):
    """What a guide says of a picture once it has looked at it."""
    guide = RepeatGuide(then, focal_px)
    assert guide.hints() == ()
    guide.watch(now, None, 0.0)
    guide._task.result(timeout=60)
    guide.watch(now, None, 0.1)
    guide.close()
    guide.close()
    [hint] = guide.hints()
    return camera_hint(hint, Words("de"))


@pytest.mark.parametrize("of_camera", [False, True])
def test_guide_compares_on_its_own_thread_and_says_what_to_do(of_camera):
    sensor = FORMATS["full-frame"] if of_camera else None
    then = Earlier(photograph(), None, sensor)
    now = seen_after(photograph(), pan_deg=2.0)
    if of_camera:
        now = now[70:-70]  # a feed of 16:9 from the camera's 3:2
    told = said(then, lambda width, height: FOCAL_PX, now)
    assert told == "Kamera um 2,0\u00b0 nach ihrer linken Seite drehen"


def test_a_feed_of_another_shape_than_its_profile_is_not_compared():
    def learned(width, height):
        raise UserError("another shape")

    told = said(Earlier(photograph(), None), learned, photograph())
    assert told.startswith("fr\u00fchere Szene nicht vergleichbar")


def test_a_week_later(monkeypatch, capsys, tmp_path):
    """A session taken by the camera's own timer: repeated with its review, and without one."""
    monkeypatch.chdir(tmp_path)
    feed = tmp_path / "feed"
    feed.mkdir()
    for number in range(5):
        cv2.imwrite(str(feed / f"{number}.png"), photograph()[70:-70])
    by_camera(tmp_path / "hall", Sharpness.SHARP)
    drawn = []
    monkeypatch.setattr(Ghost, "over", lambda ghost, picture: drawn.append(picture.shape))
    arguments = ("live", "feed", "--no-window", "--output", "a.mp4", "--repeat", "hall")
    for reviewed in (True, False):
        drawn.clear()
        if not reviewed:
            (tmp_path / "hall" / "review" / "review.json").unlink()
        monkeypatch.setattr("sys.argv", ["assist", *arguments])
        with pytest.raises(SystemExit) as end:
            cli.main()
        _, err = capsys.readouterr()
        assert end.value.code == 0, err
        assert bool(drawn) is reviewed
        assert ("holds no picture to repeat" in err) is not reviewed
        # The network takes a part of the motorcycle for a face, and a slim one.
        lines = [line for line in err.splitlines() if "faces in the feed" not in line]
        assert len(lines) == (0 if reviewed else 1)
