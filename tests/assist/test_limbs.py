import numpy as np
import pytest

from assist.base.errors import UserError
from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.pose import framing as framing_check
from assist.pose.landmarks import Landmark as Mark
from assist.pose.limbs import MARKS, LimbWatch, without
from assist.setup import set_up
from optics.camera import PinholeCamera
from tests.assist.footage import SET_UP, PlacedDetector
from tests.assist.synthetic import standing_pose

SIZE = (1280, 720)
CAMERA = PinholeCamera.from_focal_length_px(600.0, *SIZE)


def seen(*, unseen=()):
    pose = standing_pose(CAMERA, 3.5)
    for limb in unseen:
        pose.visibility[list(MARKS[limb])] = 0.2
    return pose


def after(script, stated=()):
    """Limbs not to talk about after a script of (seconds, limbs not seen), at 10 a second."""
    watch, time_s, found = LimbWatch(stated), 0.0, frozenset()
    for seconds, unseen in script:
        for _ in range(round(seconds * 10)):
            found = watch.update(time_s, seen(unseen=unseen))
            time_s += 0.1
    return found


def test_a_hand_never_seen_for_seconds_is_not_talked_about():
    assert after([(3.0, ["left-hand"])]) == frozenset()
    assert after([(5.0, ["left-hand"])]) == {"left-hand"}
    assert after([(5.0, ["left-arm", "right-foot"])]) == {"left-hand", "right-foot"}


def test_a_hand_hidden_for_a_while_is_not_missing():
    assert after([(4.0, []), (6.0, ["left-hand"])]) == frozenset()


def test_a_hand_that_shows_is_back():
    assert after([(6.0, ["left-hand"]), (1.0, [])]) == frozenset()


def test_beyond_the_edge_not_seeing_tells_nothing():
    watch = LimbWatch()
    for index in range(80):
        pose = seen(unseen=["left-hand"])
        pose.image_px[list(MARKS["left-hand"]), 0] += 800
        assert watch.update(index / 10, pose) == frozenset()


def test_what_is_stated_counts_from_the_first_picture():
    assert after([(0.1, [])], ["right-leg"]) == {"right-leg"}


def test_an_absent_hand_is_neither_measured_nor_cut():
    pose = seen()
    pose.image_px[list(MARKS["left-hand"]), 0] += 800
    assert framing_check.check(pose).cut == ("hand",)
    assert framing_check.check(pose, {"left-hand"}).cut == ()
    bare = without(pose, {"left-hand"})
    assert bare.visibility[Mark.LEFT_WRIST] == 0
    assert bare.visibility[Mark.LEFT_ELBOW] == pose.visibility[Mark.LEFT_ELBOW] == 1


class CutHandDetector(PlacedDetector):
    """The left hand's guessed place lies beyond the picture's edge."""

    def detect(self, picture, time_s):
        poses = super().detect(picture, time_s)
        poses[0].image_px[list(MARKS["left-hand"]), 0] = -50
        return poses


@pytest.mark.parametrize(("stated", "told"), [((), True), (("left-hand",), False)])
def test_the_set_up_states_what_is_not_there(stated, told):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["person"]["without"] = stated
    chosen = set_up.from_values(values)
    moment = Assistant(chosen, CutHandDetector(lambda _: 4.0, chosen)).see(
        Frame(np.zeros((360, 640, 3), np.uint8), 0.0, 0)
    )
    assert ("hand" in moment.framing.cut) is told


@pytest.mark.parametrize(
    ("shot", "framed"), [(None, True), ("full-body", False), ("waist-up", True)]
)
def test_no_picture_is_ready_that_cuts_what_was_asked_for(shot, framed):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["framing"] = {} if shot is None else {"shot_size": shot}
    chosen = set_up.from_values(values)
    moment = Assistant(chosen, CutHandDetector(lambda _: 4.0, chosen)).see(
        Frame(np.zeros((360, 640, 3), np.uint8), 0.0, 0)
    )
    assert moment.readiness.framed is framed


def test_it_is_kept_in_the_file(tmp_path):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["person"] |= {"without": ["left-arm"], "posture": "seated", "orders_by": "head"}
    chosen = set_up.from_values(values)
    set_up.save(chosen, tmp_path / "a.toml")
    assert set_up.load(tmp_path / "a.toml") == chosen
    values["person"]["without"] = ["tail"]
    with pytest.raises(UserError, match="tail"):
        set_up.from_values(values)
