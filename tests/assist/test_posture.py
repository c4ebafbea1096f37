import re

import numpy as np
import pytest

from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.pose import PoseDetector
from assist.pose.landmarks import Landmark as Mark
from assist.pose.posture import PostureWatch, shown
from assist.setup.body import Posture
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import from_values
from optics.camera import PinholeCamera
from tests.assist.footage import SET_UP, PlacedDetector
from tests.assist.synthetic import body_m, standing_pose
from tests.assist.telling import told
from tests.distance.test_engine import seated

SIZE = (1280, 720)
CAMERA = PinholeCamera.from_focal_length_px(600.0, *SIZE)


def squatting():
    """Hips low over the heels, knees folded."""
    points = body_m()
    for hip, knee, low in ((23, 25, (27, 29, 31)), (24, 26, (28, 30, 32))):
        points[knee] = points[hip] + (0.0, 0.02, -0.40)
        points[list(low)] = points[hip] + (0.0, 0.20, -0.03)
    return points


def striding():
    """One leg ahead, one behind, each 30 degrees from the plumb line."""
    points = body_m()
    for sign, hip, legs in ((1, 23, (25, 27, 29, 31)), (-1, 24, (26, 28, 30, 32))):
        below = points[list(legs)] - points[hip]
        a = sign * np.radians(30)
        turn = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
        points[list(legs)] = points[hip] + below @ turn.T
    return points


def seen(posture, turn_deg=0.0):
    return standing_pose(CAMERA, 3.5, turn_deg=turn_deg, detector_m=posture())


@pytest.mark.parametrize("turn_deg", [0.0, 45.0, 90.0, 180.0])
@pytest.mark.parametrize(
    ("posture", "told"),
    [
        (body_m, Posture.STANDING),
        (striding, Posture.STANDING),
        (seated, Posture.SEATED),
        (squatting, Posture.NOT_SURE),
    ],
)
def test_one_picture(posture, told, turn_deg):
    assert shown(seen(posture, turn_deg)) is told


def test_legs_out_of_the_picture_or_hidden_tell_nothing():
    cut = seen(body_m)
    cut.image_px[Mark.LEFT_KNEE :, 1] += 800
    assert shown(cut) is Posture.NOT_SURE
    hidden = seen(seated)
    hidden.visibility[Mark.LEFT_KNEE :] = 0.3
    assert shown(hidden) is Posture.NOT_SURE


def test_one_leg_is_enough():
    for posture, shows in ((body_m, Posture.STANDING), (seated, Posture.SEATED)):
        pose = seen(posture)
        pose.visibility[[Mark.LEFT_KNEE, Mark.LEFT_ANKLE]] = 0.1
        assert shown(pose) is shows


def told_over(script, watch=None):
    """Postures told over (seconds, posture of the body or None for no one) at 10 a second."""
    watch, time_s, said = watch or PostureWatch(), 0.0, []
    for seconds, posture in script:
        pose = None if posture is None else seen(posture)
        for _ in range(round(seconds * 10)):
            said.append(watch.update(time_s, pose))
            time_s += 0.1
    return said


def test_nothing_is_said_before_a_second():
    said = told_over([(2.0, seated)])
    assert set(said[:10]) == {Posture.NOT_SURE}
    assert said[-1] is Posture.SEATED


def test_a_bow_does_not_make_a_standing_person_sit():
    said = told_over([(3.0, body_m), (0.8, seated), (3.0, body_m)])
    assert Posture.SEATED not in said


def test_sitting_down_is_seen_and_standing_up_too():
    said = told_over([(3.0, body_m), (3.0, seated), (3.0, body_m)])
    assert [said[k] for k in (29, 59, 89)] == [Posture.STANDING, Posture.SEATED, Posture.STANDING]


def test_it_is_held_while_the_legs_cannot_be_seen():
    assert told_over([(3.0, seated), (5.0, None)])[-1] is Posture.SEATED


def test_what_the_user_states_is_not_second_guessed():
    assert set(told_over([(2.0, body_m)], PostureWatch(Posture.SEATED))) == {Posture.SEATED}


class SeatedDetector(PlacedDetector):
    def detect(self, picture, time_s):
        return [standing_pose(self._camera, self._place(time_s), detector_m=seated(), hips_y_m=0.4)]


def last_sentence(detector, set_up):
    assistant = Assistant(set_up, detector)
    for index in range(60):
        moment = assistant.see(Frame(np.zeros((360, 640, 3), np.uint8), index / 30, index))
    return told(moment, set_up).sentence


@pytest.mark.parametrize(
    ("detector", "posture", "sentence"),
    [
        (PlacedDetector, "auto", r"step forward 3\.\d m, 5 steps"),
        (PlacedDetector, "seated", r"move forward 3\.\d m"),
        (SeatedDetector, "auto", r"move forward 3\.\d m"),
        (SeatedDetector, "standing", r"step forward 3\.\d m, 4 steps"),
    ],
)
def test_the_assistant_speaks_to_the_posture(detector, posture, sentence):
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["person"]["posture"] = posture
    set_up = from_values(values)
    assert re.fullmatch(sentence, last_sentence(detector(lambda _: 7.5, set_up), set_up))


class Posed(PoseDetector):
    """Sees what `poses` gives of the time."""

    def __init__(self, pose):
        self._pose = pose

    def detect(self, picture, time_s):
        return [self._pose(time_s)]


def over_a_gap(pose, *, withdrawn=True):
    """The moments of two seconds, one without news, and two again; the guide's idea of turning."""
    assistant = Assistant(SET_UP, Posed(pose))
    turning, action = [], assistant._guide.action

    def spy(assessment, turns=False):
        turning.append(turns)
        return action(assessment, turns)

    assistant._guide.action = spy
    moments = []
    for index in range(150):
        time_s = index / 30
        if time_s < 2 or time_s >= 3:
            frame = Frame(np.zeros((360, 640, 3), np.uint8), time_s, index)
            moments.append(assistant.see(frame))
        elif withdrawn:
            moments.append(assistant.withdraw(moments[-1], time_s))
    return moments, turning


FEED_CAMERA = FeedGeometry.of(SET_UP).camera(640, 360)


def test_who_turned_while_nothing_was_seen_is_not_taken_to_be_turning():
    def pose(time_s):
        return standing_pose(FEED_CAMERA, 4.1, turn_deg=0.0 if time_s < 2 else 180.0)

    assert any(over_a_gap(pose, withdrawn=False)[1])  # that is what would be believed
    assert not any(over_a_gap(pose)[1])


def test_posture_is_learned_anew_after_a_time_in_which_nothing_was_seen():
    def pose(time_s):
        return standing_pose(FEED_CAMERA, 7.5, detector_m=body_m() if time_s < 2 else seated())

    moments, _ = over_a_gap(pose)
    said = [(m.person.posture, told(m).sentence.split()[0]) for m in moments]
    assert said[59] == (Posture.STANDING, "step")
    assert {posture for posture, _ in said[60:90]} == {Posture.NOT_SURE}
    assert "step" not in {word for _, word in said[60:]}
    assert said[-1] == (Posture.SEATED, "move")


def test_a_posture_that_was_stated_holds_while_nothing_is_seen():
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["person"]["posture"] = "seated"
    assistant = Assistant(from_values(values), PlacedDetector(lambda _: 4.1))
    seen_last = assistant.see(Frame(np.zeros((360, 640, 3), np.uint8), 0.0, 0))
    assert assistant.withdraw(seen_last, 1.0).person.posture is Posture.SEATED
