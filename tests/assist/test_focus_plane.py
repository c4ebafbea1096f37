"""Narrow zones: the mark taught in a run, on exact bodies; what is learned; what is told of it."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import cv2
import numpy as np
import pytest

from assist.base.errors import UserError
from assist.base.words import Words
from assist.distance import BodyDistance
from assist.distance.engine import DistanceEngine
from assist.distance.reference import ReferenceView
from assist.feed import Frame
from assist.feed.video_file import VideoFileSource
from assist.guidance.assistant import Assistant
from assist.guidance.focus_plane import FocusPlane
from assist.guidance.guide import Action
from assist.guidance.narrator import Narrator
from assist.guidance.narrow_zone import narrow_zone
from assist.guidance.picture_news import PictureNews
from assist.guidance.teaching import Teaching
from assist.pose import PoseDetector
from assist.run import demo
from assist.run.camera_watch import CameraWatch
from assist.session import focus_learned
from assist.setup.body import Person
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import from_values
from optics.plane_of_focus import circles_of_confusion
from tests.assist.synthetic import standing_pose
from tests.distance.test_face import CAMERA, seen_face

VIEW_DEG = math.degrees(2 * math.atan(640 / CAMERA.fx_px))
VALUES = {
    "lens": {"focal_length_mm": 85, "f_number": 1.8, "focus_distance_m": 4.0},
    "person": {"stature_m": 1.70},
    "feed": {"through": "own-lens", "horizontal_field_of_view_deg": VIEW_DEG},
}
SET_UP = from_values(VALUES)
ZONE = SET_UP.focus_zone
PICTURE = np.zeros((720, 1280, 3), np.uint8)
RATE_HZ = 25
LARGER = 1.03
"""The body that is filmed is so much larger than its stature says: all distances come out short."""


def seen(eyes_m, *, stature_m=1.70 * LARGER, size=LARGER, face=True, turn_deg=0.0):
    """Somebody whose eyes are so far away, in a picture."""
    pose = standing_pose(CAMERA, eyes_m + 0.1, stature_m=stature_m, turn_deg=turn_deg)
    head = pose.middle_px(2, 5)
    rays = CAMERA.normalised(head)
    mesh = seen_face((*(rays * eyes_m), eyes_m), size=size) if face else None
    return replace(pose, face=mesh)


class NoNetwork(PoseDetector):
    """The poses are given."""


class Run:
    """An assistant that is shown poses."""

    def __init__(self, set_up=SET_UP):
        self.assistant = Assistant(set_up, NoNetwork())
        self.time_s = 0.0

    def watch(self, pose, seconds):
        """The moment after so long a view of that pose."""
        for _ in range(round(seconds * RATE_HZ)):
            self.time_s += 1 / RATE_HZ
            moment = self.assistant.think(
                Frame(PICTURE, self.time_s, 0), [] if pose is None else [pose]
            )
        return moment

    def teach(self, pose, seconds=2.5):
        """What came of teaching the mark."""
        self.assistant.teach_mark(self.time_s)
        return self.watch(pose, seconds)


def test_untaught_a_narrow_zone_is_never_sure():
    run = Run()
    for eyes_m in (3.75, 3.85, 3.95):
        assert run.watch(seen(eyes_m), 2.0).guidance.action is not Action.HOLD


@pytest.mark.parametrize("off", [-0.010, 0.0, 0.010])
def test_on_a_taught_mark_it_is_sure_and_beside_it_it_is_not_wrong(off):
    run = Run()
    run.watch(seen(ZONE.best_m), 1.0)
    taught = run.teach(seen(ZONE.best_m))
    assert taught.teaching is Teaching.TAUGHT
    inside = run.watch(seen(ZONE.best_m * (1 + off)), 2.0)
    assert inside.guidance.action is Action.HOLD
    assert inside.assessment.distance.eyes_m == pytest.approx(ZONE.best_m * (1 + off), rel=0.004)
    for beyond in (-0.06, 0.06):
        outside = run.watch(seen(ZONE.best_m * (1 + beyond)), 2.0)
        assert outside.guidance.action is (Action.FORWARD if beyond > 0 else Action.BACK)


def test_before_the_mark_is_taught_they_are_told_to_stand_and_nothing_else():
    run = Run()
    run.watch(seen(3.2), 1.0)
    run.assistant.teach_mark(run.time_s)
    moment = run.watch(seen(3.2), 0.6)
    message = Narrator(ZONE).tell(moment)
    assert moment.guidance.action is Action.NOT_SURE
    assert message.sentence == "stand still, look at the camera"
    assert message.spoken == "Stand still. Look at the camera."


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ({"turn_deg": 180.0, "face": False}, Teaching.TURNED),
        ({"face": False}, Teaching.NO_FACE),
        (None, Teaching.UNMEASURED),
    ],
)
def test_what_is_no_reference_is_refused(how, why):
    run = Run()
    run.watch(seen(3.9), 1.0)
    pose = None if how is None else seen(3.9, **how)
    assert run.teach(pose, 10.5).teaching is why
    assert not run.assistant.plane.learned


def test_somebody_who_walks_is_no_reference():
    run = Run()
    run.watch(seen(3.9), 1.0)
    run.assistant.teach_mark(run.time_s)
    for k in range(260):
        moment = run.watch(seen(3.9 - 0.8 * math.sin(k / 12)), 1 / RATE_HZ)
        assert moment.teaching is not Teaching.TAUGHT
    assert moment.teaching is Teaching.MOVED


def test_a_second_visit_by_a_child_is_refused():
    run = Run()
    run.teach(seen(3.9), 3.0)
    assert run.assistant.plane.learned
    child = seen(3.9, stature_m=1.2, size=0.95)
    assert run.teach(child, 6.0).teaching is Teaching.SOMEBODY_ELSE
    assert len(run.assistant.plane.lessons) == 1


def test_several_visits_make_it_surer():
    run = Run()
    sds = []
    for _ in range(3):
        assert run.teach(seen(ZONE.best_m), 3.0).teaching is Teaching.TAUGHT
        sds.append(run.assistant.plane.belief.sd)
    assert sds[0] > sds[1] > sds[2]


def test_where_the_scale_was_trusted_a_mark_teaches_little():
    """The mark is then as far as the scale says, and the focus may be elsewhere."""
    by_scale = FocusPlane(ZONE, "scale")
    by_eyes = FocusPlane(ZONE, "eyes")
    assert not by_scale.marks_teach
    assert by_eyes.marks_teach


def measured(pose, reference=None):
    engine = DistanceEngine(CAMERA, Person(1.70))
    engine.refer(reference)
    for k in range(3):
        found = engine.measure(pose, k / RATE_HZ)
        assert isinstance(found, BodyDistance)
    return found


def test_against_a_reference_the_size_of_the_body_does_not_matter():
    reference = ReferenceView.of([measured(seen(4.0))])
    for eyes_m in (3.6, 4.2):
        found = measured(seen(eyes_m), reference)
        assert found.eyes_m / reference.eyes_m == pytest.approx(eyes_m / 4.0, rel=0.004)
    # Without it the two cues, of another size each, weigh elsewhere when the face is lost.
    faceless = measured(seen(4.0, face=False), reference)
    assert faceless.eyes_m / reference.eyes_m == pytest.approx(1.0, rel=0.004)
    own = [math.sqrt(f.eyes_sd_m**2 - f.common_sd_m**2) / f.eyes_m for f in (found, faceless)]
    assert own[1] > 1.2 * own[0]  # a body repeats itself less well than a face


def picture_blur(eyes_m, plane_m):
    return circles_of_confusion(ZONE) * abs(1 - plane_m / eyes_m)


def test_pictures_find_the_plane_and_the_words_go_by_it():
    """The lens is focused 3 % behind where it was said to be; three pictures, no mark."""
    run, plane_m = Run(), ZONE.best_m * 1.03
    for eyes_m in (3.80, 4.06, 3.98):
        run.watch(seen(eyes_m), 2.0)
        view = run.assistant.view_now(run.time_s)
        blur = max(picture_blur(eyes_m, plane_m), 0.3)
        run.assistant.plane.learn_picture(view, blur, 0.1 * blur)
        run.assistant.refer()
    assert run.assistant.plane.belief.one_sided
    assert run.watch(seen(plane_m), 2.0).guidance.action is Action.HOLD
    assert run.watch(seen(ZONE.best_m * 0.97), 2.0).guidance.action is Action.BACK
    nearer = run.watch(seen(plane_m * 0.95), 2.0)
    assert nearer.guidance.action is Action.BACK


def test_what_was_learned_comes_back_with_the_session(tmp_path):
    run = Run()
    run.teach(seen(ZONE.best_m), 3.0)
    focus_learned.save(run.assistant.plane, tmp_path)
    kept = focus_learned.load(tmp_path)
    again = Run()
    again.watch(seen(3.5), 1.0)
    again.assistant.learned_before(*focus_learned.lessons_of(kept))
    before, after = run.assistant.plane.belief, again.assistant.plane.belief
    assert after.ratio == pytest.approx(before.ratio, rel=1e-3)
    assert after.sd > before.sd  # another day
    assert again.watch(seen(ZONE.best_m), 2.0).guidance.action is Action.HOLD


def test_what_was_learned_is_void_once_the_camera_has_moved(tmp_path):
    run = Run()
    run.teach(seen(ZONE.best_m), 3.0)
    focus_learned.save(run.assistant.plane, tmp_path)
    run.assistant.void_mark(run.time_s)
    moment = run.watch(seen(ZONE.best_m), 2.0)
    assert moment.teaching is Teaching.VOID
    assert moment.guidance.action is not Action.HOLD
    assert Narrator(ZONE).tell(moment).news_spoken == "The camera has moved. Teach the mark again."
    focus_learned.save(run.assistant.plane, tmp_path)
    assert focus_learned.load(tmp_path) is None


def frames(count):
    """Pictures of the shipped clip in which the person stands, with the scene behind them."""
    source = VideoFileSource(demo.sample_folder() / demo.CLIP)
    kept = [frame.picture for frame in iter(source.read, None) if frame.time_s > 9.0]
    source.close()
    return kept[:count]


@pytest.mark.parametrize(("zoom", "changed"), [(1.0, False), (1.03, True)])
def test_a_camera_that_was_zoomed_is_noticed(zoom, changed):
    first, *others = frames(4)
    height, width = first.shape[:2]
    centre = cv2.getRotationMatrix2D((width / 2, height / 2), 0, zoom)
    noticed = False
    with CameraWatch(first, None, 1245.0) as watch:
        for k in range(60):
            picture = cv2.warpAffine(others[k % 3], centre, (width, height))
            noticed = noticed or watch.changed(picture, None, k * 1.0)
            time.sleep(0.05)
    assert noticed is changed


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b'{"version": 9}', b'{"version": 1, "ratio": "x"}', b"\xff"]
)
def test_a_damaged_file_is_told_in_one_line(tmp_path, content):
    (tmp_path / focus_learned.FOCUS_FILE).write_bytes(content)
    with pytest.raises(UserError) as told:
        focus_learned.load(tmp_path)
    assert focus_learned.FOCUS_FILE in str(told.value)
    assert "\n" not in str(told.value)


def test_a_session_that_learned_nothing_has_no_file(tmp_path):
    focus_learned.save(FocusPlane(ZONE), tmp_path)
    assert not list(tmp_path.iterdir())
    assert focus_learned.load(tmp_path) is None


@pytest.mark.parametrize(
    ("off_m", "line"),
    [
        (0.042, "picture 2: eyes soft, 4 cm too far"),
        (-0.04, "picture 2: eyes soft, 4 cm too near"),
        (None, "picture 2: eyes soft"),
    ],
)
def test_news_of_a_picture_in_words(off_m, line):
    moment = Run().watch(seen(3.9), 0.5)
    told = Narrator(ZONE).tell(moment, picture=PictureNews(2, "soft", off_m))
    assert told.news == line
    assert told.news_spoken.startswith("The picture is soft.")


def test_short_ways_are_told_in_centimetres_or_inches():
    say = Words()
    assert (say.short_length(-0.034), say.short_length_aloud(0.034)) == ("3 cm", "3 centimetres")
    assert say.short_length_aloud(0.008) == "one centimetre"
    feet = Words("en", "feet")
    assert (feet.short_length(0.05), feet.short_length_aloud(0.05)) == ("2 in", "2 inches")


def narrow(**lens):
    set_up = from_values({**VALUES, "lens": {**VALUES["lens"], **lens}})
    return narrow_zone(set_up, Person(1.70), FeedGeometry.of(set_up))


def test_narrow_zones_are_told_beforehand_with_ways_out():
    found = narrow()
    assert found.mark_helps
    assert found.f_number > 1.8
    deeper = narrow(f_number=found.f_number)
    assert deeper is None
    assert narrow(f_number=found.f_number / 2) is not None
    assert narrow(focal_length_mm=24, f_number=8) is None


def test_a_way_out_by_distance_is_enough_and_not_too_far():
    found = narrow(focal_length_mm=35, f_number=2.8, focus_distance_m=2.5)
    if found is not None and found.distance_m is not None:
        assert narrow(focal_length_mm=35, f_number=2.8, focus_distance_m=found.distance_m) is None
    assert narrow(focus_distance_m=2.4).distance_m is None
