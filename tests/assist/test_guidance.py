import re

import numpy as np
import pytest

from assist.base.words import languages
from assist.distance import BodyDistance, TrackedDistance
from assist.feed import Frame
from assist.guidance import advice
from assist.guidance.advice import WantedFraming
from assist.guidance.assistant import Assistant
from assist.guidance.guide import LEAD_S, Action, Guide, Unmeasured
from assist.guidance.verdict import Assessment, Judge, Verdict
from assist.pose.framing import Framing
from assist.pose.landmarks import Landmark
from assist.pose.person_state import PersonState
from assist.setup import set_up
from assist.setup.body import Posture
from optics.camera import PinholeCamera
from optics.focus_zone import FocusZone
from tests.assist.footage import SET_UP, PlacedDetector
from tests.assist.telling import ZONE, guidance_of, message_of, told

CAUTION = "look behind you"
GUIDE = Guide(ZONE)


def assess(z, sd=0.1, speed=0.0):
    return Judge(ZONE).judge(TrackedDistance(0.0, z, sd, speed, 0.0))


def guidance(z, sd=0.1, speed=0.0, guide=GUIDE, **person):
    """The facts; `person` are those of the person's state."""
    return guide.guide(assess(z, sd, speed), PersonState(**person))


def said_of(z, sd=0.1, speed=0.0, guide=GUIDE, language="en", **person):
    """The facts, and the message with its words."""
    found = guidance(z, sd, speed, guide, **person)
    return found, message_of(found, assess(z, sd, speed), language=language)


def test_too_far_steps_forward_by_what_is_missing_to_the_sharpest_place():
    found, said = said_of(5.5)
    assert found.action is Action.FORWARD
    assert found.to_mark_m == pytest.approx(1.5)
    assert said.sentence == "move forward 1.5 m"
    assert said.caution == ""


def test_too_near_steps_back_and_is_warned_on_the_screen_and_aloud():
    found, said = said_of(2.5)
    assert found.action is Action.BACK
    assert said.sentence == "move back 1.5 m"
    assert said.caution == CAUTION
    assert "Look behind you" in said.spoken


def test_distances_are_told_from_the_sensor_plane():
    assert "eyes at 4.05 m" in said_of(4.0)[1].why


def test_with_the_back_turned_forward_would_be_the_wrong_word():
    assert said_of(2.5, faces_camera=False)[1].sentence == "1.5 m further from the camera"
    assert said_of(5.5, faces_camera=False)[1].sentence == "1.5 m towards the camera"


def test_not_sure_still_helps_and_warns():
    found, said = said_of(3.5)
    assert found.action is Action.NOT_SURE
    assert "move back 0.5 m" in said.sentence
    assert said.caution == CAUTION


def test_nobody_is_sent_nought_point_nought_metres():
    for z in (3.96, 4.0, 4.04):
        found, said = said_of(z, sd=0.6)
        assert found.action is Action.NOT_SURE
        assert said.sentence == "you are close to the mark"
        assert said.spoken == "Not sure. You are close to the mark."
        assert said.caution == ""
        assert found.lean == 0
        assert said.length in ("at 4.00 m", "at 4.05 m", "at 4.10 m")
    for z, lean in ((3.94, -1), (4.06, 1)):
        found, said = said_of(z, sd=0.6)
        assert "0.1 m" in said.sentence
        assert found.lean == lean
        assert said.length == "0.1 m"


def test_an_order_shorter_than_the_figures_is_told_as_a_little():
    narrow = FocusZone(3.98, 4.0, 4.02, 0.05)
    guide = Guide(narrow)
    for z, word, sentence in ((4.04, Action.FORWARD, "forward"), (3.96, Action.BACK, "back")):
        tracked = TrackedDistance(0.0, z, 0.005, 0.0, 0.0)
        assessment = Judge(narrow).judge(tracked)
        said = message_of(guide.guide(assessment), assessment)
        assert said.action is word
        assert said.sentence == f"move {sentence} a little"
        assert said.length == "a little"


def test_who_is_not_measured_is_asked_for_more_or_for_a_moment():
    assert "one moment" in message_of(GUIDE.unmeasured(Unmeasured.MEASURING)).sentence
    found = GUIDE.guide(Assessment(Verdict.NOT_SURE))
    assert found == GUIDE.unmeasured()
    assert (found.action, found.to_mark_m) == (Action.NOT_SURE, None)
    said = message_of(found)
    assert said.caution == "look where you go"  # some back away to be seen whole
    assert "Look where you go" in said.spoken
    assert "come fully into view" in said.sentence


def test_who_is_too_far_off_to_be_measured_is_asked_nearer():
    black = np.zeros((360, 640, 3), np.uint8)
    assistant = Assistant(SET_UP, PlacedDetector(lambda _: 120.0, SET_UP))
    moment = assistant.see(Frame(black, 0.0, 0))
    assert moment.guidance.action is Action.NOT_SURE
    assert told(moment).sentence == "come nearer"
    assert moment.guidance.to_mark_m is None


def test_every_order_to_go_back_carries_the_warning():
    for z in np.linspace(1.0, 5.5, 91):
        for speed in (-1.2, 0.0, 1.2):
            _, said = said_of(z, speed=speed)
            if "back" in said.sentence or said.action is Action.BACK:
                assert said.caution == CAUTION


def test_forward_only_never_sends_anyone_backwards():
    guide = Guide(ZONE, forward_only=True)
    for z in np.linspace(1.0, 5.5, 91):
        for speed in (-1.2, 0.0, 1.2):
            _, said = said_of(z, speed=speed, guide=guide)
            assert said.action is not Action.BACK
            assert "move back" not in said.sentence
    _, said = said_of(2.5, guide=guide)
    assert said.action is Action.AGAIN
    assert "behind the mark" in said.sentence
    assert said.caution


def test_steps_of_ones_own():
    guide = Guide(ZONE, step_m=0.7)
    on_feet = {"guide": guide, "posture": Posture.STANDING}
    assert said_of(5.5, **on_feet)[1].sentence == "step forward 1.5 m, 2 steps"
    assert said_of(4.75, sd=0.02, **on_feet)[1].sentence == "step forward 0.8 m, one step"


@pytest.mark.parametrize("posture", [Posture.SEATED, Posture.NOT_SURE])
@pytest.mark.parametrize("language", languages())
def test_nothing_is_told_in_steps_to_anyone_not_seen_to_stand(posture, language):
    guide = Guide(ZONE, step_m=0.7)
    for z in np.linspace(1.0, 7.0, 61):
        for speed in (-1.2, 0.0, 1.2):
            for faces_camera in (True, False):
                _, said = said_of(
                    z, speed=speed, guide=guide, language=language, posture=posture,
                    faces_camera=faces_camera,
                )  # fmt: skip
                words = " ".join((said.sentence, said.caution, said.spoken, said.why)).lower()
                assert not re.search(r"step|walk|stand|schritt|geh|lauf|steh", words), words


def test_no_one():
    said = GUIDE.guide(Assessment(Judge(ZONE).judge(None).verdict))
    assert said.action is Action.NO_ONE
    assert said.to_mark_m is None


# -- lead: whoever walks is guided by where they will come to rest ------------------------------


@pytest.mark.parametrize(
    ("z", "speed", "action"),
    [
        (2.5, 0.0, Action.BACK),
        (2.0, 1.2, Action.BACK),  # would rest at 2.84: go on
        (3.2, 1.2, Action.STOP),  # would rest at 4.04
        (4.3, 1.2, Action.STOP),  # in the zone still, but would rest at 5.14: no farther
        (4.8, 1.2, Action.FORWARD),
        (6.5, -1.2, Action.FORWARD),
        (5.0, -1.0, Action.STOP),
        (4.0, -1.2, Action.STOP),
        (3.4, -1.2, Action.BACK),
        (4.0, 0.05, Action.HOLD),
    ],
)
def test_stop_comes_in_time(z, speed, action):
    assert guidance(z, speed=speed).action is action


@pytest.mark.parametrize("speed", [0.6, 0.9, 1.2, 1.5])
@pytest.mark.parametrize("start_m", [1.5, 7.0])
def test_a_walker_who_stops_when_told_ends_in_the_zone(speed, start_m):
    """Walking at a steady pace, hearing the word at 25 pictures a second, resting LEAD_S later."""
    way = 1 if start_m < 4 else -1
    z = start_m
    for _ in range(300):
        z += way * speed / 25
        if guidance(z, speed=way * speed).action is Action.STOP:
            break
    rest_m = z + way * speed * LEAD_S
    assert ZONE.near_m < rest_m < ZONE.far_m


def test_hold_is_never_said_to_someone_who_walks():
    for z in np.linspace(1.0, 7.0, 61):
        for speed in (-1.2, -0.5, 0.5, 1.2):
            assert guidance(z, speed=speed).action is not Action.HOLD


# -- further advice -----------------------------------------------------------------------------

CAMERA = PinholeCamera.from_focal_length_px(1000.0, 1280, 720)


def framing(across=0.5, cut=(), shows="full body"):
    return Framing(shows, cut, across, 0.1)


@pytest.mark.parametrize(
    ("across", "facing", "text"),
    [
        (0.5, True, None),
        (0.4, True, None),
        # The unmirrored picture shows them at the left: its right is their own left.
        (0.2, True, "1.5 m to your left"),
        (0.8, True, "1.5 m to your right"),
        (0.2, False, "1.5 m to your right"),
    ],
)
def test_sideways_in_the_persons_own_left_and_right(across, facing, text):
    across_m = advice.across_m(framing(across), 4.0, CAMERA, WantedFraming())
    assert (across_m and worded(advice.sideways(across_m, facing))) == text
    assert WantedFraming().allows(framing(across)) == (text is None)


def test_sideways_towards_the_place_that_is_wanted():
    off_centre = WantedFraming(across=0.3)
    assert advice.across_m(framing(0.3), 4.0, CAMERA, off_centre) is None
    assert advice.across_m(framing(0.6), 4.0, CAMERA, off_centre) < 0


def looked_at(chosen, seconds=3.0, across_m=0.0, place_m=4.0, feed_px=(640, 360)):
    """The last moment of somebody who stands there all the time."""
    assistant = Assistant(chosen, PlacedDetector(lambda _: place_m, chosen, across_m))
    black = np.zeros((feed_px[1], feed_px[0], 3), np.uint8)
    for k in range(round(seconds * 10)):
        moment = assistant.see(Frame(black, k / 10, k))
    return moment


def test_nobody_is_told_to_hold_who_stands_beside_the_frame():
    assert looked_at(SET_UP).guidance.action is Action.HOLD
    moment = looked_at(SET_UP, across_m=1.2)
    said = told(moment)
    assert said.action is Action.REFRAME
    # At the right of the unmirrored picture: their own right is at its left, and on their screen.
    assert said.sentence == "1.2 m to your right"
    assert said.spoken == "In focus, but look where you go: one metre to your right."
    assert said.caution == "look where you go"
    assert moment.guidance.lean == 1
    assert said.length == "1.2 m"
    assert moment.readiness.in_focus
    assert not moment.readiness.ready


def test_nobody_is_told_to_hold_whom_the_picture_cuts():
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["lens"]["focal_length_mm"] = 50
    values["lens"]["f_number"] = 8
    chosen = set_up.from_values({**values, "framing": {"shot_size": "full-body"}})
    moment = looked_at(chosen)
    said = told(moment, chosen)
    assert said.action is Action.REFRAME
    assert "out of the picture: " in said.sentence
    assert "feet" in said.sentence
    assert said.caution == "look where you go"
    assert "look where you go" in said.spoken
    assert moment.guidance.across_m is None
    assert moment.guidance.lean == 0
    assert looked_at(set_up.from_values(values)).guidance.action is Action.HOLD


def beside(**offset):
    """A webcam that shows 5.1 m across at 4 m, beside a camera that shows 2.9 m."""
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["lens"] = {"focal_length_mm": 50, "f_number": 8, "focus_distance_m": 4.0}
    values["feed"] = {"through": "own-lens", "horizontal_field_of_view_deg": 65, **offset}
    return set_up.from_values(values)


def test_a_feed_beside_the_camera_tells_of_the_cameras_picture_where_its_place_is_known():
    placed = beside(across_m=0.2, along_m=0.0)
    assert looked_at(placed, across_m=-0.2).guidance.action is Action.HOLD
    # 0.3 m aside is about the middle of the webcam's view, and 0.5 m aside of the camera's.
    aside = looked_at(placed, across_m=0.3)
    assert aside.guidance.action is Action.REFRAME
    assert told(aside, placed).sentence == "0.5 m to your right"
    # Turned in by ten degrees, it sees in its middle who stands well aside of the camera's.
    turned_in = beside(yaw_deg=10)
    turned = looked_at(turned_in, across_m=0.0)
    assert turned.guidance.action is Action.REFRAME
    assert "right" in told(turned, turned_in).sentence


def test_where_its_place_is_not_known_the_picture_is_not_judged_by_the_feed():
    unplaced = beside()
    values = unplaced.model_dump(mode="json", exclude_none=True)
    values["framing"] = {"shot_size": "full-body"}
    for chosen in (unplaced, set_up.from_values(values)):
        assert looked_at(chosen, across_m=1.2).guidance.action is Action.HOLD


@pytest.mark.parametrize(
    ("shot", "cut"),
    [
        (None, ("head", "feet")),
        ("full-body", ("head", "feet")),
        ("knees-up", ("head",)),
        ("head-and-shoulders", ("head",)),
    ],
)
def test_a_shot_of_part_of_the_body_cuts_the_rest(shot, cut):
    assert advice.cuts(framing(cut=("head", "feet")), WantedFraming(shot)) == cut


@pytest.mark.parametrize(
    ("shot", "shows", "cut"),
    [
        ("knees-up", "knees-up", ()),
        ("knees-up", "waist-up", ("knees",)),
        ("waist-up", "knees-up", ()),
        ("waist-up", "head and shoulders", ("waist",)),
        ("chest-up", "head and shoulders", ()),
    ],
)
def test_a_shot_shows_what_it_is_named_for(shot, shows, cut):
    seen = framing(cut=("feet",), shows=shows)
    assert advice.cuts(seen, WantedFraming(shot)) == cut
    assert WantedFraming(shot).allows(seen) == (not cut)


def test_where_no_shot_is_asked_for_the_head_must_be_in_the_picture():
    assert WantedFraming().allows(framing(cut=("feet", "hand")))
    assert not WantedFraming().allows(framing(cut=("head",)))
    assert not WantedFraming("full-body").allows(framing(cut=("feet",)))


def worded(*found):
    """Advice in words."""
    return message_of(guidance_of(Action.HOLD, 0.0, advice=found)).also[0]


def body(**depths):
    marks = np.full((33, 3), np.nan)
    marks[:, 2] = 4.0
    for name, z in depths.items():
        marks[Landmark[name], 2] = z
    return BodyDistance(4.0, 0.1, 4.1, 0.1, marks, ())


def test_part_out_of_the_zone():
    assert advice.part_outside(body(), ZONE) is None
    assert advice.part_outside(body(LEFT_WRIST=3.45), ZONE) is None  # within the margin
    assert worded(advice.part_outside(body(LEFT_WRIST=3.3), ZONE)) == "hand 0.2 m too near"
    both = body(LEFT_WRIST=3.3, RIGHT_FOOT_INDEX=5.2)
    assert worded(advice.part_outside(both, ZONE)) == "foot 0.5 m too far"


def test_unseen_parts_are_not_judged():
    assert advice.part_outside(body(LEFT_WRIST=np.nan), ZONE) is None
