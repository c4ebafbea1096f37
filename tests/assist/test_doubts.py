"""Doubts in the feed and in what is stated: no sure word, and what to do about it."""

from dataclasses import replace

import numpy as np
import pytest

from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.guidance.doubts import Doubts
from assist.guidance.guide import Action, Reason
from assist.guidance.narrator import Narrator
from assist.guidance.verdict import Verdict
from assist.pose import Face
from assist.pose.face import COUNT, MESH_POINTS
from assist.pose.squeezed import SqueezeWatch, breadth_over_height
from assist.run.feed_remarks import FeedRemarks
from assist.setup.body import Person
from assist.setup.feed_profile import FeedProfile
from assist.setup.set_up import from_values
from optics.camera import PinholeCamera
from tests.assist.footage import SET_UP, SIZE_PX, PlacedDetector

LENS = {"focal_length_mm": 35, "f_number": 2.8, "focus_distance_m": 4.0}


def face(log_ratio, width_px=60.0, turned=0.0):
    """A mesh of that breadth over height, and otherwise flat."""
    points = np.zeros((COUNT, 3))
    for right, left in ((234, 454), (127, 356)):
        for point, sign in ((right, -1), (left, 1)):
            half = sign * width_px / 2
            points[MESH_POINTS.index(point)] = half * np.cos(turned), 0, half * np.sin(turned)
    height = width_px / np.exp(log_ratio)
    points[MESH_POINTS.index(10), 1] = -height / 2
    points[MESH_POINTS.index(1), 1] = height / 2
    return Face(points + 100)


class Faced(PlacedDetector):
    """Sees the body with such a face."""

    def __init__(self, log_ratio):
        super().__init__(lambda _: 4.0)
        self._log_ratio = log_ratio

    def detect(self, picture, time_s):
        [pose] = super().detect(picture, time_s)
        object.__setattr__(pose, "face", face(self._log_ratio))
        return [pose]


def moments(detector, set_up=SET_UP, seconds=2.0):
    assistant, picture = Assistant(set_up, detector), np.zeros((*SIZE_PX[::-1], 3), np.uint8)
    return [assistant.see(Frame(picture, k / 25, k)) for k in range(round(seconds * 25))]


def pose_with(one):
    [pose] = PlacedDetector(lambda _: 4.0).detect(None, 0.0)
    object.__setattr__(pose, "face", one)
    return pose


@pytest.mark.parametrize(("log_ratio", "seems"), [
    (0.27, False), (0.31, False), (0.36, False), (0.40, False), (0.20, True), (0.15, True),
    (0.45, True), (0.60, True),
])  # fmt: skip
def test_no_face_is_so_slim_or_so_wide(log_ratio, seems):
    watch = SqueezeWatch()
    for _ in range(5):
        watch.update(pose_with(face(log_ratio)))
    assert watch.seems is seems


def test_one_odd_look_at_a_face_is_not_enough_and_tiny_and_turned_ones_tell_nothing():
    watch = SqueezeWatch()
    watch.update(pose_with(face(0.22)))
    assert not watch.seems
    assert breadth_over_height(face(0.31)) == pytest.approx(0.31)
    assert breadth_over_height(face(0.1, width_px=12.0)) is None
    assert breadth_over_height(face(0.1, turned=0.8)) is None


@pytest.mark.parametrize(
    ("size_px", "seems"),
    [((720, 576), True), ((720, 480), True), ((1024, 576), False), ((640, 480), False)],
)
def test_televisions_pixels_are_never_square(size_px, seems):
    watch = SqueezeWatch()
    watch.update(replace(pose_with(face(0.31)), width_px=size_px[0], height_px=size_px[1]))
    assert watch.seems is seems


def test_a_board_knows_how_wide_the_pixels_are():
    camera = PinholeCamera(*SIZE_PX, 466.0, 622.0, 320.0, 180.0)
    by_board = Doubts(Person(1.69), FeedProfile.of_camera(camera, "board", 0.003))
    stated = Doubts(Person(1.69), FeedProfile.of_camera(camera, "lens", 0.02))
    for doubts in (by_board, stated):
        doubts.hear(0.0, pose_with(face(0.15)), None)
    assert (by_board.open, stated.open) == (None, Reason.SQUEEZED)


def test_squeezed_no_sure_word_but_what_to_do_and_it_ends_when_mended():
    detector = Faced(0.17)
    told = moments(detector)
    assert {m.guidance.action for m in told} <= {Action.NOT_SURE, Action.NO_ONE}
    assert told[-1].guidance.why.reason is Reason.SQUEEZED
    assert told[-1].assessment.verdict is Verdict.NOT_SURE
    message = Narrator(SET_UP.focus_zone).tell(told[-1])
    assert (message.sentence, message.length) == ("set the feed to its own shape", "")
    assert "squeezed" in message.why
    assert "squeezed" in message.spoken
    lines = []
    remarks = FeedRemarks(SET_UP, lines.append)
    for moment in told:
        remarks.see(moment)
    assert len(lines) == 1
    assert "1280x720" in lines[0]
    assert moments(Faced(0.33))[-1].guidance.why.reason is not Reason.SQUEEZED


def test_an_unusual_stature_is_believed_once_the_face_has_been_seen():
    set_up = from_values({"lens": LENS, "person": {"stature_m": 1.2}})
    told = moments(PlacedDetector(lambda _: 4.0), set_up)
    assert {m.guidance.action for m in told} <= {Action.NOT_SURE, Action.NO_ONE}
    assert told[-1].guidance.why.reason is Reason.STATURE_UNSEEN
    assert "show your face once" in Narrator(set_up.focus_zone).tell(told[-1]).why
