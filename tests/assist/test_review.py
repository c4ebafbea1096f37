"""The review from file to report: tags, matching, causes and advice, tables, the command."""

import csv
import io
import json
import threading
import types
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import cv2
import matplotlib
import numpy as np
import pytest
from PIL import ExifTags, Image, TiffImagePlugin

from assist import cli
from assist.base.errors import UserError
from assist.pose import PoseDetector
from assist.review import (
    batch,
    bursts,
    diagnosis,
    export,
    picture,
    report,
    session_attempts,
    tags,
    zone_plot,
)
from assist.review.blur.luminance import linear_luminance
from assist.review.blur.measure import Blur, measure
from assist.review.checked import Cause, CheckedPicture, Sharpness
from assist.review.diagnosis import PlaceBlur, Where
from assist.review.examiner import Examiner
from assist.review.feed_pictures import FeedPictures
from assist.review.matching import match
from assist.review.tags import PictureTags
from assist.review.taking_lens import depths_for_blur_m, largest_print_m, print_text, taken_with
from assist.session import folder as session
from assist.setup import feed_profile
from assist.setup.body import Posture
from assist.setup.feed_profile import FeedProfile
from assist.setup.set_up import from_values
from optics import lens
from optics.camera import PinholeCamera
from tests.assist import blur_truth as bt
from tests.assist.synthetic import standing_pose
from tests.assist.test_session import SET_UP, attempt
from tests.distance.test_engine import seated

PORTRAIT = Path(matplotlib.get_data_path()) / "sample_data" / "grace_hopper.jpg"
TAG = ExifTags.Base


def saved(path, image, **inner):
    """A picture with tags, written by Pillow."""
    exif = Image.Exif()
    exif[TAG.Orientation] = 1  # without a tag of its own Pillow writes none of the inner ones
    block = exif.get_ifd(ExifTags.IFD.Exif)
    for name, value in inner.items():
        if name == "Orientation":
            exif[TAG.Orientation] = value
        else:
            block[getattr(TAG, name)] = value
    made = Image.fromarray(image[..., ::-1])
    if path.suffix == ".tif":
        info = TiffImagePlugin.ImageFileDirectory_v2()
        info[ExifTags.IFD.Exif.value] = dict(block)
        made.save(path, tiffinfo=info)
    else:
        made.save(path, exif=exif)
    return path


GRAY = np.full((40, 60, 3), 128, np.uint8)


@pytest.mark.parametrize("ending", [".jpg", ".png", ".tif"])
def test_tags_are_read(tmp_path, ending):
    """Tags and their meaning: EXIF, CIPA DC-008."""
    path = saved(
        tmp_path / f"a{ending}", GRAY, FocalLength=50.0, FNumber=2.8, ExposureTime=1 / 125,
        ISOSpeedRatings=400, SubjectDistance=3.2, FocalLengthIn35mmFilm=75,
        DateTimeOriginal="2026:05:03 10:00:07", SubsecTimeOriginal="25",
        OffsetTimeOriginal="+02:00", LensModel="a lens",
    )  # fmt: skip
    got = tags.read(Image.open(path))
    assert (got.focal_length_mm, got.f_number, got.iso) == (50.0, pytest.approx(2.8), 400)
    assert got.exposure_s == pytest.approx(0.008)
    assert got.focus_distance_m == pytest.approx(3.2)
    assert got.taken_at == datetime(
        2026, 5, 3, 10, 0, 7, 250000, tzinfo=timezone(timedelta(hours=2))
    )
    assert got.sensor.diagonal_m == pytest.approx(lens_diagonal(75, 50), rel=1e-6)


def lens_diagonal(equivalent, focal):
    return np.hypot(0.036, 0.024) * focal / equivalent


@pytest.mark.parametrize(("unit", "per_mm"), [(2, 25.4), (3, 10.0), (4, 1.0)])
def test_sensor_from_the_focal_planes_resolution(tmp_path, unit, per_mm):
    resolution = 60 / 23.6 * per_mm
    path = saved(
        tmp_path / "a.jpg", GRAY, FocalPlaneXResolution=resolution,
        FocalPlaneYResolution=resolution, FocalPlaneResolutionUnit=unit,
    )  # fmt: skip
    assert tags.read(Image.open(path)).sensor.width_m == pytest.approx(0.0236, rel=1e-3)


@pytest.mark.parametrize(
    ("recorded", "width_mm"),
    [
        ((6000, 4000), 36.0),  # made smaller since: the tags are of the larger one
        ((4000, 6000), 36.0),  # and turned
        ((6000, 2000), 0.36),  # cut since: what is left is a part of the sensor
        ((0, 0), 0.36),
        ((30, 20), 0.36),  # of a small view inside
    ],
)
def test_sensor_of_a_picture_that_was_made_smaller(tmp_path, recorded, width_mm):
    path = saved(
        tmp_path / "a.jpg", np.zeros((40, 60, 3), np.uint8), FocalPlaneXResolution=6000 / 36,
        FocalPlaneYResolution=6000 / 36, FocalPlaneResolutionUnit=4, ExifImageWidth=recorded[0],
        ExifImageHeight=recorded[1],
    )  # fmt: skip
    sensor = tags.read(Image.open(path)).sensor
    if width_mm < 2:
        assert sensor is None  # smaller than any
    else:
        assert sensor.width_m == pytest.approx(width_mm / 1000, rel=1e-3)


def test_missing_and_nonsense_tags_count_as_missing(tmp_path):
    path = saved(
        tmp_path / "a.jpg", GRAY, FNumber=0.0, SubjectDistance=4294967295.0,
        DateTimeOriginal="0000:00:00 00:00:00", FocalLengthIn35mmFilm=0,
    )  # fmt: skip
    assert tags.read(Image.open(path)) == PictureTags()


def test_what_a_raw_library_tells_counts_only_where_it_can_be():
    told = types.SimpleNamespace(
        focal_length=0.0, aperture=float("nan"), shutter_speed=1 / 60, iso_speed=100.0,
        timestamp=datetime(1970, 1, 1),
    )  # fmt: skip
    assert tags.of_raw(told) == PictureTags(exposure_s=1 / 60, iso=100)
    assert tags.of_raw(None) == PictureTags()


def test_picture_is_turned_as_its_tags_say(tmp_path):
    image = np.zeros((40, 60, 3), np.uint8)
    image[:20] = 255
    opened = picture.open_picture(saved(tmp_path / "a.png", image, Orientation=6))
    assert (opened.width_px, opened.height_px) == (40, 60)
    assert opened.whole[30, 35].min() > 200 > opened.whole[30, 5].max()


def test_small_view_is_small(tmp_path):
    image = np.zeros((2400, 3600, 3), np.uint8)
    opened = picture.open_picture(saved(tmp_path / "a.jpg", image))
    assert max(opened.small.shape) in range(900, 1801)
    assert opened.scale == pytest.approx(3600 / opened.small.shape[1])


@pytest.mark.parametrize("content", [b"", b"not a picture", b"\xff\xd8\xff\xe0 cut short"])
def test_a_bad_file_is_told_and_the_rest_goes_on(tmp_path, content):
    path = tmp_path / "a.jpg"
    path.write_bytes(content)
    checked = Examiner(NoOne()).examine(path).checked
    assert "not a readable picture" in checked.problem
    assert checked.verdict == Sharpness.NOT_SURE.value


def test_raw_needs_the_extra(tmp_path, monkeypatch):
    path = tmp_path / "a.dng"
    path.write_bytes(b"x")
    monkeypatch.setitem(__import__("sys").modules, "rawpy", None)
    with pytest.raises(UserError, match=r"self-portrait-assist\[raw\]"):
        picture.open_picture(path)


def test_a_raw_file_is_developed_and_measured(tmp_path):
    """A DNG that the test writes with tifffile: a mosaic of a chart under a known blur."""
    pytest.importorskip("rawpy")
    tifffile = pytest.importorskip("tifffile")
    light = bt.blurred(bt.chart(240, 1), "gauss", 6.0)
    to_xyz = (3.2406, -1.5372, -0.4986, -0.9689, 1.8758, 0.0415, 0.0557, -0.2040, 1.0570)
    matrix = [part for value in to_xyz for part in (round(value * 10000), 10000)]
    path = tmp_path / "a.dng"
    tifffile.imwrite(
        path, np.round(200 + light * 15000).astype(np.uint16), photometric=32803, metadata=None,
        extratags=[
            (50706, "B", 4, (1, 4, 0, 0), True), (33421, "H", 2, (2, 2), True),
            (33422, "B", 4, (0, 1, 1, 2), True), (50708, "s", 0, "Invented", True),
            (50714, "H", 1, 200, True), (50717, "I", 1, 15200, True),
            (50721, "2i", 9, matrix, True), (50728, "2I", 3, (1, 1) * 3, True),
            (50778, "H", 1, 21, True),
        ],
    )  # fmt: skip
    opened = picture.open_picture(path)
    assert opened.whole.shape == (240, 240, 3)
    got = measure(linear_luminance(opened.whole))
    assert got.width_px == pytest.approx(6.0, rel=0.2)  # the mosaic and its tone curve included


def test_files_are_found_and_wrong_ones_named(tmp_path):
    saved(tmp_path / "b.jpg", GRAY)
    saved(tmp_path / "a.png", GRAY)
    (tmp_path / "notes.txt").write_text("x")
    assert [p.name for p in picture.find([tmp_path, tmp_path / "b.jpg"])] == ["a.png", "b.jpg"]
    with pytest.raises(UserError, match=r"notes\.txt is not a picture"):
        picture.find([tmp_path / "notes.txt"])
    with pytest.raises(UserError, match="does not exist"):
        picture.find([tmp_path / "c.jpg"])
    (tmp_path / "empty").mkdir()
    with pytest.raises(UserError, match="holds no pictures"):
        picture.find([tmp_path / "empty"])


# -- matching -------------------------------------------------------------------------------------

START = datetime(2026, 5, 3, 10, 0, 0)


def moments(*seconds):
    return [START + timedelta(seconds=s) for s in seconds]


def test_clock_offset_is_found_from_the_set():
    fired = [(n, m) for n, m in enumerate(moments(0, 47, 131, 190, 333), start=1)]
    taken = [m + timedelta(seconds=3719.4) for m in moments(0.2, 47.8, 131.1, 333.3)]
    stranger = START + timedelta(hours=5)
    found = match([*taken, stranger, None], fired)
    assert found.certain
    assert found.offset_s == pytest.approx(3719.9, abs=0.6)
    assert found.attempts == (1, 2, 3, 5, None, None)


def test_a_burst_belongs_to_one_attempt():
    fired = [(1, START), (2, START + timedelta(seconds=60))]
    found = match(moments(100, 100.4, 100.8, 160.2, 160.6), fired)
    assert found.attempts == (1, 1, 1, 2, 2)


def test_one_picture_does_not_fix_a_clock():
    fired = [(1, START)]
    near = match(moments(2), fired)
    assert (near.attempts, near.certain) == ((1,), False)
    assert match(moments(7200), fired) is None
    assert match([], fired) is None
    assert match(moments(1), []) is None


def test_zones_are_part_of_the_offset():
    fired = [(n, m.replace(tzinfo=timezone.utc)) for n, m in enumerate(moments(0, 50, 120), 1)]
    found = match([m + timedelta(hours=2) for m in moments(0, 50, 120)], fired)
    assert found.offset_s == pytest.approx(7200, abs=0.1)
    assert found.attempts == (1, 2, 3)


def test_burst_is_ranked_best_first():
    def one(seconds, verdict, blur):
        return CheckedPicture(
            file=f"{seconds}", taken_at=START + timedelta(seconds=seconds), verdict=verdict.value,
            blur_px=blur,
        )  # fmt: skip

    ranked = bursts.rank([
        one(0, Sharpness.SOFT, 9), one(0.5, Sharpness.SHARP, 3), one(1, Sharpness.SHARP, 2),
        one(60, Sharpness.SHARP, 1),
    ])  # fmt: skip
    assert [(p.rank, p.of) for p in ranked] == [(3, 3), (2, 3), (1, 3), (None, None)]


def test_what_was_not_judged_is_best_of_nothing():
    def one(seconds, verdict, **more):
        taken_at = START + timedelta(seconds=seconds)
        return CheckedPicture(file="a", taken_at=taken_at, verdict=verdict.value, **more)

    ranked = bursts.rank([
        one(0, Sharpness.NOT_SURE),  # no one in it
        one(1, Sharpness.NOT_SURE, framing="knees-up"),  # the face turned away
        one(2, Sharpness.SOFT, blur_px=4.0, framing="knees-up"),
        one(3, Sharpness.NOT_SURE, blur_px=2.5, framing="knees-up"),
    ])  # fmt: skip
    assert [p.rank for p in ranked] == [4, 3, 2, 1]


# -- causes and advice ----------------------------------------------------------------------------

TAKEN = taken_with(PictureTags(focal_length_mm=35, f_number=2.0), 6000, 4000, SET_UP)


def blur(width, across=None, direction=None):
    return Blur(width, 0.05 * width, across or width, direction, {"disc": 1.0}, 100)


def place(name, depth, width, **more):
    return PlaceBlur(name, depth, blur(width, **more))


@pytest.mark.parametrize(
    ("eyes", "places", "cause"),
    [
        (blur(9), [place("background left", "farther", 3)], Cause.BACK_FOCUS),
        (blur(9), [place("ground in front", "nearer", 3)], Cause.FRONT_FOCUS),
        (blur(9), [place("background left", "farther", 20)], Cause.DEFOCUS),
        (blur(9), [], Cause.DEFOCUS),
        (
            blur(12, 3, 10),
            [place("background left", "farther", 12, across=3, direction=14)],
            Cause.SHAKE,
        ),
        (blur(12, 3, 10), [place("background left", "farther", 3)], Cause.MOTION),
        (blur(12, 3, 10), [], Cause.MOTION_OR_SHAKE),
        (
            blur(12, 3, 10),
            [place("background left", "farther", 12, across=3, direction=100)],
            Cause.MOTION_OR_SHAKE,
        ),
    ],
)
def test_causes(eyes, places, cause):
    assert diagnosis.cause_of(eyes, places) is cause


def test_depth_from_blur_is_the_inverse_of_the_lens_formula():
    for z in (1.2, 2.5, 3.7, 4.4, 9.0, 60.0):
        b = float(lens.blur_diameter_m(0.035, 2.0, 4.0, z))
        near, far = depths_for_blur_m(0.035, 2.0, 4.0, b)
        assert z == pytest.approx(near if z < 4 else far)
    far_away = float(lens.blur_diameter_m(0.035, 2.0, 4.0, np.inf))
    assert depths_for_blur_m(0.035, 2.0, 4.0, far_away * 1.001)[1] == np.inf


@pytest.mark.parametrize(
    ("true_m", "posture", "words"),
    [
        (5.6, Posture.STANDING, "step forward"),
        (3.1, Posture.STANDING, "step back"),
        (5.6, Posture.SEATED, "move forward"),
        (3.1, Posture.SEATED, "move back"),
        (3.1, Posture.NOT_SURE, "move back"),
    ],
)
def test_advice_leads_into_the_zone(true_m, posture, words):
    """Eyes at a known place: the advice, followed, makes them sharp, and so does its aperture."""
    f, n, s = 0.035, 2.0, TAKEN.focus_m
    z = true_m - TAKEN.offset_m
    width = float(lens.blur_diameter_m(f, n, s, z)) / TAKEN.pixel_pitch_m
    told = diagnosis.diagnose(blur(width), [], TAKEN, Where(true_m, 0.15), None, posture)
    assert told.verdict in (Sharpness.SOFT, Sharpness.ACCEPTABLE)
    assert words in told.change
    assert ("look behind you" in told.change) == words.endswith("back")
    assert told.distance_from_blur_m == pytest.approx(true_m, abs=0.01)
    step = float(told.change.split(words)[1].split(" m")[0])
    moved = z - step if words.endswith("forward") else z + step
    assert lens.blur_diameter_m(f, n, s, moved) < TAKEN.criterion.circle_of_confusion_m
    stop = float(told.change.split("f/")[1])
    assert lens.blur_diameter_m(f, stop, s, z) <= TAKEN.criterion.circle_of_confusion_m


def test_without_evidence_no_side_is_claimed():
    told = diagnosis.diagnose(blur(9), [], TAKEN, Where(4.0, 1.0), None)
    assert told.distance_from_blur_m is None
    assert "not to be told" in told.why


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ([], "a focus at 4.00 m does not explain it"),
        ([place("ground", "nearer", 3)], "the focus was nearer, not at 4.00 m"),
        ([place("background left", "farther", 3)], "the focus was farther, not at 4.00 m"),
    ],
)
def test_who_stood_right_is_not_sent_elsewhere(places, words):
    focus_m = TAKEN.focus_m + TAKEN.offset_m
    assert focus_m == pytest.approx(4.0, abs=0.05)
    told = diagnosis.diagnose(blur(9), places, TAKEN, Where(4.0, 0.1), None)
    assert told.verdict is Sharpness.SOFT
    assert f"shows the eyes at 4.00 m, inside the zone; {words}" in told.why.replace(
        f"{focus_m:.2f} m", "4.00 m"
    )
    assert "stand-in" in told.change
    assert told.distance_from_blur_m is None


def test_shutter_that_would_have_done():
    told = diagnosis.diagnose(blur(19, 3, 5), [], TAKEN, None, 1 / 30)
    assert "1/250 s or faster (this was 1/30 s)" in told.change
    assert "from side to side" in told.why


def test_tags_go_over_the_set_up_and_say_so():
    got = taken_with(PictureTags(focal_length_mm=50, f_number=4.0), 6000, 4000, SET_UP)
    assert (got.focal_length_m, got.f_number) == (0.05, 4.0)
    assert len(got.notes) == 2
    assert taken_with(PictureTags(), 6000, 4000, None).zone is None


@pytest.mark.parametrize(
    ("size_px", "pitch_mm"),
    [
        ((6000, 4000), 36 / 6000),
        ((4000, 6000), 36 / 6000),
        ((6000, 3375), 36 / 6000),
        ((5333, 4000), 24 / 4000),  # 4:3 from a 3:2 sensor: its whole height
        ((4000, 5333), 24 / 4000),
        ((4000, 4000), 24 / 4000),
    ],
)
def test_pixels_of_a_picture_narrower_than_the_sensor_are_of_its_height(size_px, pitch_mm):
    got = taken_with(PictureTags(), *size_px, SET_UP, "2 px", "print 30 cm from 40 cm")
    assert got.pixel_pitch_m == pytest.approx(pitch_mm / 1000)
    assert got.limit_px == pytest.approx(2.0)
    # What is printed is the picture, not what the sensor had beside it.
    assert largest_print_m(got.print_limit_px, max(size_px)) == pytest.approx(0.3)
    by_diagonal = taken_with(PictureTags(), *size_px, SET_UP, "diagonal/1500")
    assert by_diagonal.criterion == SET_UP.criterion


@pytest.mark.parametrize("text", ["30cm", "print 30 cm from 50 cm", "1ft from 2ft"])
def test_print_sizes(text):
    assert print_text(text).startswith("print ")


# -- whole pictures -------------------------------------------------------------------------------


class NoOne:
    def detect(self, picture, time_s):
        return []

    def close(self):
        pass


class Standing(PoseDetector):
    """Finds one person whose eyes lie where the test has put something to look at."""

    body_m, hips_y_m = None, 0.6

    def detect(self, picture, time_s):
        from optics.camera import PinholeCamera

        camera = PinholeCamera.from_focal_length_px(
            1.0 * picture.shape[1], picture.shape[1], picture.shape[0]
        )
        return [standing_pose(camera, 3.0, hips_y_m=self.hips_y_m, detector_m=self.body_m)]

    def close(self):
        pass


class Seated(Standing):
    body_m, hips_y_m = seated(), 0.4


def sheet(width_px):
    """A picture of 6 megapixels, textured everywhere, under a blur of that width."""
    rng = np.random.default_rng(3)
    coarse = rng.integers(30, 220, (80, 120, 3), dtype=np.uint8)
    image = cv2.resize(coarse, (3000, 2000), interpolation=cv2.INTER_NEAREST)
    return cv2.GaussianBlur(image, (0, 0), max(width_px / 4, 0.3))


@pytest.mark.parametrize(
    ("width", "verdict"), [(1.8, Sharpness.SHARP), (7.0, Sharpness.SOFT), (14.0, Sharpness.SOFT)]
)
def test_verdict_of_a_whole_picture(tmp_path, width, verdict):
    path = saved(tmp_path / "a.jpg", sheet(width), FocalLength=35.0, FNumber=2.0)
    examined = Examiner(Standing(), SET_UP).examine(path)
    assert examined.checked.verdict == verdict.value
    if width > 3:  # OpenCV's kernel of less than half a pixel is too coarse to be a truth
        assert examined.checked.blur_px == pytest.approx(width, rel=0.2)
    assert examined.checked.distance_m is not None
    assert examined.eyes_crop.shape[0] <= 360  # at full size: cut out, never scaled


@pytest.mark.parametrize(
    ("person", "stated", "go"),
    [
        (Standing, "auto", "step"),
        (Seated, "auto", "move"),
        (Standing, "seated", "move"),
        (Seated, "standing", "step"),
    ],
)
def test_who_does_not_stand_is_told_to_move(tmp_path, person, stated, go):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["person"]["posture"] = stated
    values["lens"]["focus_distance_m"] = 6.0
    path = saved(tmp_path / "a.jpg", sheet(14.0), FocalLength=35.0, FNumber=2.0)
    checked = Examiner(person(), from_values(values)).examine(path).checked
    assert checked.change.startswith(f"{go} back ")


def test_no_one_in_it(tmp_path):
    checked = Examiner(NoOne()).examine(saved(tmp_path / "a.jpg", GRAY)).checked
    assert (checked.verdict, checked.why) == (Sharpness.NOT_SURE.value, "no one found in it")


class Two(PoseDetector):
    """One person; with that one covered by one colour, another, unless `other_m` is None.

    The one is before the picture's middle, the other so far beside it.
    """

    def __init__(self, other_m):
        self.other_m = other_m

    def detect(self, image, time_s):
        height, width = image.shape[:2]
        camera = PinholeCamera.from_focal_length_px(1.0 * width, width, height)
        first = standing_pose(camera, 5.0)
        x, y = first.image_px[:, 0].mean(), first.image_px[:, 1].mean()
        if image[int(y) - 5 : int(y) + 5, int(x) - 5 : int(x) + 5].std(axis=(0, 1)).max() > 1:
            return [first]
        if self.other_m is None:
            return []
        aside_px = camera.fx_px * self.other_m / 5.0
        return [replace(first, image_px=first.image_px + np.array([aside_px, 0]))]

    def close(self):
        pass


@pytest.mark.parametrize(
    ("other_m", "words"),
    [(1.5, "the one farther to the left was judged"),
     (-1.5, "the one farther to the right was judged"),
     (0.05, ""), (None, "")],
)  # fmt: skip
def test_with_somebody_else_in_it_the_one_that_was_judged_is_named(tmp_path, other_m, words):
    path = saved(tmp_path / "a.jpg", sheet(1.8), FocalLength=35.0, FNumber=2.0)
    notes = Examiner(Two(other_m), SET_UP).examine(path).checked.notes
    assert [words in note for note in notes if "another person" in note] == [True] * bool(words)


def test_order_is_kept_whatever_the_threads(tmp_path):
    paths = [saved(tmp_path / f"{i:02d}.png", GRAY) for i in range(17)]
    found = batch.examine_all(paths, NoOne, None, print_size="print 10 cm from 40 cm", workers=3)
    assert [Path(e.checked.file) for e in found] == paths


# -- tables and pages -----------------------------------------------------------------------------

WICKED = "=cmd|' /C calc'!A0<script>alert(1)</script>"


def test_no_network_is_closed_while_it_looks_at_a_picture(tmp_path):
    """One picture fails, which ends the review, while another is still being looked at."""
    both, closing = threading.Barrier(2), threading.Event()

    class Working(NoOne):
        made, closed_at_work = [], []

        def __init__(self):
            self.at_work, self.fails = False, not self.made
            self.made.append(self)

        def detect(self, picture, time_s):
            self.at_work = True
            both.wait(20)
            if not self.fails:
                closing.wait(0.3)
            self.at_work = False
            if self.fails:
                raise ValueError("the first one fails")
            return []

        def close(self):
            self.closed_at_work.append(self.at_work)
            closing.set()

    paths = [saved(tmp_path / f"{n}.jpg", np.zeros((40, 60, 3), np.uint8)) for n in range(2)]
    with pytest.raises(ValueError, match="the first one fails"):
        list(
            batch.examine_all(paths, Working, None, print_size="print 10 cm from 40 cm", workers=2)
        )
    assert Working.closed_at_work == [False, False]


def test_csv_runs_no_formulas_and_reads_back():
    rows = [CheckedPicture(file=WICKED, why='a, "quoted"\nline', blur_px=3.25, cut=("-1", "feet"))]
    text = export.pictures_csv(rows).decode("utf-8-sig")
    [row] = csv.DictReader(io.StringIO(text))
    assert row["file"] == "'" + WICKED
    assert row["why"] == 'a, "quoted"\nline'
    assert float(row["blur_px"]) == 3.25
    assert row["cut"] == "'-1; feet"


def test_json_reads_back():
    content = json.loads(export.pictures_json([CheckedPicture(file="a", taken_at=START)]))
    assert CheckedPicture.model_validate(content["pictures"][0]).taken_at == START


def test_page_escapes_what_comes_from_files():
    pictures = [
        CheckedPicture(
            file=f"x/{WICKED}", why=WICKED, change=WICKED, notes=(WICKED,), problem=WICKED,
            near_m=2.8, far_m=3.2, focus_m=3.0, distance_m=3.1, distance_sd_m=0.1,
            thumbnail="a.jpg", eyes_crop="b.jpg",
        )
    ]  # fmt: skip
    page = report.page_of(pictures, None, WICKED).decode()
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "default-src 'none'" in page


@pytest.mark.parametrize("far_m", [3.2, np.inf])
def test_plot_marks_where_things_are(far_m):
    drawn = zone_plot.draw(2.8, far_m, 3.0, [zone_plot.Place("eyes", 3.1, 0.1)])
    assert "eyes 3.10 m" in drawn
    assert "url(#hatch)" in drawn


def test_pictures_join_their_attempts_by_name_or_time():
    first, second = attempt(1), attempt(2)
    second = second.model_copy(update={"taken_at": first.taken_at + timedelta(seconds=40)})
    found, _ = batch.finish(
        [
            CheckedPicture(file="x/picture-0001.png"),
            CheckedPicture(file="x/b.jpg", taken_at=second.taken_at.replace(tzinfo=None)),
        ],
        [first, second],
    )
    assert [p.attempt for p in found] == [1, 2]
    assert found[0].live_distance_m == 4.05
    assert "could be matched" not in report.page_of(found, None, "saturday").decode()


def session_of(*seconds, place_m=4.05):
    return [
        attempt(number).model_copy(
            update={
                "taken_at": START + timedelta(seconds=s),
                "picture": None,
                "distance_m": place_m,
            }
        )
        for number, s in enumerate(seconds, start=1)
    ]


def dated(name, seconds, **more):
    return CheckedPicture(file=f"card/{name}", taken_at=START + timedelta(seconds=seconds), **more)


def test_pictures_of_another_time_are_named():
    record = session_of(0, 40)
    pictures = [
        dated("a.jpg", 100), dated("b.jpg", 140), dated("c.jpg", 1000), dated("d.jpg", 9000),
        CheckedPicture(file="e.jpg"), CheckedPicture(file="f.jpg", problem="damaged"),
    ]  # fmt: skip
    found, match_ = batch.finish(pictures, record)
    told = session_attempts.without_attempt(found, record, match_, "hall")
    assert [(group.words, session_attempts.names(group.pictures, 9)) for group in told] == [
        ("2 pictures belong to no attempt of session hall, by the time", "c.jpg, d.jpg"),
        ("1 without a time, so that the attempt is not known", "e.jpg"),
    ]
    page = report.page_of(found, match_, "hall", told).decode()
    assert '<a href="#p3">c.jpg</a>, <a href="#p4">d.jpg</a>.' in page
    assert page.count("none of the session&") + page.count("none of the session's") == 2
    assert page.count("&middot; no attempt") == 2
    assert session_attempts.names([p for p in found if p.attempt is None], 1) == "c.jpg and 3 more"


@pytest.mark.parametrize(
    ("seconds", "words"), [((), "holds no attempt"), ((0, 40), "the clocks differ")]
)
def test_why_no_picture_has_an_attempt(seconds, words):
    record = session_of(*seconds)
    found, match_ = batch.finish([dated("a.jpg", 90_000)], record)
    [told] = session_attempts.without_attempt(found, record, match_, "hall")
    assert words in told.words
    page = report.page_of(found, match_, "hall", [told]).decode()
    assert words in page
    assert "no attempt<" not in page


@pytest.mark.parametrize(
    ("here_m", "there_m", "noted"),
    [(4.02, 9.9, True), (4.02, 4.3, False), (4.6, 4.05, False), (3.2, 4.05, True)],
)
def test_a_place_that_contradicts_the_feeds_is_noted(here_m, there_m, noted):
    shown = CheckedPicture(file="a", taken_at=START, distance_m=here_m, distance_sd_m=0.12)
    [found], _ = batch.finish([shown], session_of(0, place_m=there_m))
    assert found.attempt == 1
    assert [
        f"at {here_m:.2f} m, where the feed told {there_m:.2f} m" in n for n in found.notes
    ] == ([True] * noted)


def test_the_print_that_a_picture_is_acceptable_for_is_named(tmp_path):
    path = saved(tmp_path / "a.jpg", sheet(7.0), FocalLength=35.0, FNumber=2.0)
    checked = Examiner(Standing(), SET_UP, print_size="print 8 cm from 30 cm").examine(path).checked
    page = report.page_of([checked], None).decode()
    wanted = f"{checked.print_limit_px:.1f} px (a print 8 cm wide seen from 30 cm)"
    assert f", acceptable to {wanted}" in page
    assert f"<dt>acceptable to</dt><dd>{wanted}</dd>" in page


def test_who_does_not_see_a_picture_is_told_what_it_is():
    page = report.page_of(
        [CheckedPicture(file="x/a.jpg", thumbnail="t.jpg", framing="knees-up")], None
    ).decode()
    assert page.count('alt="a.jpg, small, knees-up"') == 2
    assert 'alt=""' not in page


@pytest.mark.parametrize(
    ("trigger", "cause", "verdict"),
    [
        ("frame", Cause.DEFOCUS, "not sure"),
        ("frame", Cause.MOTION, "soft"),
        ("frame", Cause.BACK_FOCUS, "soft"),
        ("command", Cause.DEFOCUS, "soft"),
    ],
)
def test_blur_alone_does_not_call_a_picture_of_the_feed_out_of_focus(trigger, cause, verdict):
    taken = attempt(1).model_copy(update={"trigger": trigger})
    soft = CheckedPicture(file="picture-0001.png", verdict="soft", cause=cause.value, why="2 px; x")
    found, _ = batch.finish([soft], [taken])
    assert found[0].verdict == verdict
    assert ("focus is not to be told" in found[0].why) == (verdict == "not sure")


def of_feed(set_up, path, picture=None):
    kept = set_up.model_dump(mode="json", exclude_none=True)
    taken = attempt(1).model_copy(
        update={"picture": picture or path.name, "trigger": "frame", "set_up": kept}
    )
    return FeedPictures([taken], path.parent)


def test_a_picture_of_a_webcam_is_measured_by_its_own_view_and_not_judged_for_focus(tmp_path):
    """The stand-in sees as a lens of 53.13 degrees across, and puts its person's hips at 3 m."""
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    webcam = {"through": "own-lens", "horizontal_field_of_view_deg": 53.13}
    chosen = from_values(values | {"feed": webcam})
    path = saved(tmp_path / "picture-0001.png", sheet(1.8))
    checked = Examiner(Standing(), chosen, feed=of_feed(chosen, path)).examine(path).checked
    assert checked.distance_m == pytest.approx(3.0, abs=0.2)
    assert checked.verdict == Sharpness.NOT_SURE.value
    assert "a lens of its own" in checked.why
    assert checked.blur_px is None
    other = saved(tmp_path / "camera.png", sheet(1.8))
    assert Examiner(Standing(), chosen, feed=of_feed(chosen, path)).examine(other).checked.blur_px


def test_a_picture_of_a_feed_that_shows_part_of_the_sensor_is_measured_by_that_part(tmp_path):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    chosen = from_values(values | {"feed": {"through": "taking-lens", "crop": 1.5}})
    path = saved(tmp_path / "picture-0001.png", sheet(1.8))
    whole = Examiner(Standing(), chosen).examine(path).checked
    part = Examiner(Standing(), SET_UP, feed=of_feed(chosen, path)).examine(path).checked
    assert part.distance_m == pytest.approx(1.5 * whole.distance_m, rel=0.03)
    assert part.limit_px == pytest.approx(1.5 * whole.limit_px)
    assert part.blur_mm == pytest.approx(whole.blur_mm / 1.5)
    assert part.print_limit_px == pytest.approx(whole.print_limit_px)  # the picture is what is seen
    strict = Examiner(Standing(), SET_UP, criterion="2px", feed=of_feed(chosen, path))
    assert strict.examine(path).checked.limit_px == pytest.approx(2)


def test_which_pictures_are_of_a_feed(tmp_path):
    """By their names in the record; of the same name in another session's folder is another."""
    path = tmp_path / "mine" / "picture-0001.png"
    path.parent.mkdir()
    pictures = of_feed(SET_UP, path)
    assert pictures.feed_of(path).set_up == SET_UP
    assert pictures.feed_of(tmp_path / "copied" / path.name) is not None
    assert pictures.feed_of(path.with_name("camera.jpg")) is None
    other = tmp_path / "other"
    other.mkdir()
    (other / "set-up.toml").write_text("")
    assert pictures.feed_of(other / path.name) is None
    assert of_feed(SET_UP, path, str(other / path.name)).feed_of(other / path.name) is not None


@pytest.mark.parametrize("profile", ["missing", "of another shape"])
def test_a_feed_whose_profile_is_not_at_hand_is_not_measured_but_the_review_goes_on(
    tmp_path, profile
):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    webcam = {"through": "own-lens", "profile": "webcam.toml"}
    chosen = from_values(values | {"feed": webcam})
    path = saved(tmp_path / "picture-0001.png", sheet(1.8))
    if profile != "missing":
        camera = PinholeCamera.from_field_of_view(1.0, 800, 800)
        text = feed_profile.to_toml(FeedProfile.of_camera(camera, "board", 0.002))
        (tmp_path / session.FEED_PROFILE_FILE).write_text(text)
    checked = Examiner(Standing(), chosen, feed=of_feed(chosen, path)).examine(path).checked
    assert checked.distance_m is None
    assert "a lens of its own" in checked.why


# -- the command ----------------------------------------------------------------------------------


def command(monkeypatch, capsys, *arguments):
    monkeypatch.setattr("sys.argv", ["assist", *map(str, arguments)])
    with pytest.raises(SystemExit) as end:
        cli.main()
    out, err = capsys.readouterr()
    return end.value.code, out, err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("missing.jpg",), "picture missing.jpg does not exist"),
        ((PORTRAIT, "--session", "nowhere"), "session folder nowhere does not exist"),
        ((PORTRAIT, "--set-up", "nowhere.toml"), "does not exist"),
        ((PORTRAIT, "--criterion", "very"), "--criterion"),
        ((PORTRAIT, "--print", "big"), "--print"),
    ],
)
def test_mistakes_are_one_line(monkeypatch, capsys, tmp_path, arguments, words):
    monkeypatch.chdir(tmp_path)
    code, _, err = command(monkeypatch, capsys, "review", *arguments)
    assert code == 2
    assert words in err
    assert err.count("\n") == 1
    assert not (tmp_path / "review").exists()


def test_a_real_portrait_from_file_to_report(monkeypatch, capsys, tmp_path):
    """The portrait that matplotlib carries: found, sharp as it is, soft when blurred."""
    image = cv2.imread(str(PORTRAIT))
    saved(tmp_path / "sharp.jpg", image)
    saved(tmp_path / "blurred.jpg", cv2.GaussianBlur(image, (0, 0), 2.5))
    code, out, _ = command(
        monkeypatch, capsys, "review", tmp_path / "sharp.jpg", tmp_path / "blurred.jpg",
        "--criterion", "3px", "--print", "10cm", "--output", tmp_path / "out", "--json",
    )  # fmt: skip
    assert code == 0
    sharp, blurred = json.loads(out)["pictures"]
    assert sharp["verdict"] == "sharp"
    assert blurred["verdict"] != "sharp"
    assert blurred["blur_px"] == pytest.approx(10, rel=0.25)
    assert sharp["framing"] == "head and shoulders" or sharp["framing"] == "waist-up"
    made = {p.name for p in (tmp_path / "out").iterdir()}
    assert {"review.html", "review.csv", "review.json"} <= made
    assert {sharp["thumbnail"], sharp["eyes_crop"]} <= made


def test_the_terminal_names_what_belongs_to_no_attempt(monkeypatch, capsys, tmp_path):
    with session.Session(tmp_path / "hall", SET_UP) as kept:
        for one in session_of(0, 40):
            kept.append(one)
    for name, clock in (("a", "10:00:01"), ("b", "10:00:41"), ("c", "17:30:00")):
        saved(tmp_path / f"{name}.jpg", GRAY, DateTimeOriginal=f"2026:05:03 {clock}")
    pictures = [tmp_path / f"{name}.jpg" for name in "abc"]
    code, out, _ = command(monkeypatch, capsys, "review", *pictures, "--session", tmp_path / "hall")
    assert code == 0
    assert "1 picture belongs to no attempt of session hall, by the time: c.jpg" in out
    assert (tmp_path / "hall" / "review" / "review.html").is_file()
