"""Profiles, two cameras and several people in the run itself."""

from dataclasses import replace

import numpy as np
import pytest

from assist.base.errors import UserError
from assist.feed import Frame
from assist.guidance.assistant import Assistant, Known
from assist.guidance.guide import Action
from assist.guidance.verdict import Judge, Verdict
from assist.pose.landmarks import COUNT, Landmark
from assist.setup import set_up as set_up_files
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import PersonalProfile, now
from optics.camera import PinholeCamera
from tests.assist.footage import SIZE_PX, PlacedDetector
from tests.assist.synthetic import EYES_BEFORE_HIPS_M, standing_pose
from tests.assist.telling import told

LENS = {"focal_length_mm": 35, "f_number": 4, "focus_distance_m": 4.0}
VIEW = {"through": "own-lens", "horizontal_field_of_view_deg": 60}
BLANK = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)


def set_up(**feed):
    return set_up_files.from_values(
        {"lens": LENS, "person": {"stature_m": 1.69}, "feed": {**VIEW, **feed}}
    )


def last_moment(chosen, poses, known=None, pictures=12):
    assistant = Assistant(chosen, PlacedDetector(lambda _: None, chosen), known=known)
    for index in range(pictures):
        moment = assistant.think(Frame(BLANK, index / 25, index), poses(index))
    return moment


def person_at(chosen, hips_m, **more):
    return standing_pose(FeedGeometry.of(chosen).camera(*SIZE_PX), hips_m, **more)


def eyes_of(moment):
    return moment.assessment.distance.eyes_m


@pytest.mark.parametrize("along_m", [-0.5, 0.3])
def test_a_feed_that_stands_before_or_behind_the_camera(along_m):
    chosen = set_up(along_m=along_m)
    pose = person_at(chosen, 4.0)
    moment = last_moment(chosen, lambda _: [pose])
    alone = last_moment(set_up(), lambda _: [pose])
    assert eyes_of(moment) == pytest.approx(eyes_of(alone) + along_m, abs=1e-6)
    assert moment.body.hips_m == pytest.approx(alone.body.hips_m + along_m, abs=1e-6)


def test_a_feed_that_stands_aside_and_is_turned_back_to_the_scene():
    """Half a metre to the left and turned by 10 degrees to the right: the depth along the camera's
    axis is the feed's own depth times the cosine, less the sideways part times the sine."""
    chosen = set_up(across_m=-0.5, yaw_deg=10)
    pose = person_at(chosen, 4.0, across_m=0.2)
    moment = last_moment(chosen, lambda _: [pose])
    alone = last_moment(set_up(), lambda _: [pose])
    z, x = eyes_of(alone), 0.2
    expected = z * np.cos(np.radians(10)) - x * np.sin(np.radians(10))
    assert eyes_of(moment) == pytest.approx(expected, abs=0.02)


def test_an_offset_is_refused_for_the_cameras_own_output():
    with pytest.raises(UserError, match="offset"):
        set_up_files.from_values({"lens": LENS, "feed": {"along_m": 0.3}})


def test_a_personal_profile_goes_before_the_stature():
    chosen = set_up()
    pose = person_at(chosen, 4.0)
    scale = 1.1
    profile = PersonalProfile(learned_at=now(), scale=scale, scale_sd=0.01)
    plain = eyes_of(last_moment(chosen, lambda _: [pose]))
    known = last_moment(chosen, lambda _: [pose], Known(person=profile))
    assert eyes_of(known) == pytest.approx(plain * scale, rel=0.03)
    assert known.assessment.distance.sd_m < plain * 0.1


def test_a_feed_profile_goes_before_the_stated_view():
    chosen = set_up()
    camera = FeedGeometry.of(chosen).camera(*SIZE_PX)
    pose = person_at(chosen, 4.0)
    found = PinholeCamera(
        2 * camera.width_px, 2 * camera.height_px, 2.4 * camera.fx_px, 2.4 * camera.fy_px,
        2 * camera.cx_px, 2 * camera.cy_px,
    )  # fmt: skip
    profile = FeedProfile.of_camera(found, "board", 0.002)
    plain = eyes_of(last_moment(chosen, lambda _: [pose]))
    known = eyes_of(last_moment(chosen, lambda _: [pose], Known(feed=profile)))
    assert known == pytest.approx(1.2 * plain, rel=0.03)


def test_keeps_to_the_person_first_seen_and_not_to_the_first_in_the_list():
    chosen = set_up()
    mine, other = person_at(chosen, 4.0, across_m=-0.8), person_at(chosen, 6.0, across_m=1.2)
    poses = [[mine]] * 5 + [[other, mine]] * 10
    moment = last_moment(chosen, lambda i: poses[i], pictures=15)
    assert eyes_of(moment) == pytest.approx(4.0 - EYES_BEFORE_HIPS_M, abs=0.15)


def test_says_when_it_is_no_longer_sure_who_is_who():
    chosen = set_up()
    poses = [
        [person_at(chosen, 4.0, across_m=-0.8 + 0.08 * i),
         person_at(chosen, 4.1, across_m=0.8 - 0.08 * i)]
        for i in range(21)
    ]  # fmt: skip
    apart = last_moment(chosen, lambda i: [poses[0][0]] if i < 3 else poses[i - 3], pictures=6)
    assert apart.assessment.verdict is Verdict.IN_FOCUS
    crossed = last_moment(chosen, lambda i: [poses[0][0]] if i < 3 else poses[i - 3], pictures=20)
    assert crossed.assessment.verdict is Verdict.NOT_SURE
    assert crossed.guidance.action is not Action.HOLD
    assert "which one" in told(crossed, chosen).why
    assert not crossed.readiness.in_focus
    found = crossed.assessment
    assert found.p_in_focus < Judge.LEAVE_IN_FOCUS  # what is told beside the word does not belie it
    assert found.p_in_focus + found.p_too_near + found.p_too_far == pytest.approx(1)


def test_somebody_seen_too_little_of_to_be_measured_is_not_told_that_nobody_is_there():
    chosen = set_up()
    whole = person_at(chosen, 4.0)
    hand = replace(whole, visibility=np.where(np.arange(COUNT) == Landmark.LEFT_WRIST, 1.0, 0.0))
    seen = last_moment(chosen, lambda _: [hand], pictures=15)
    assert seen.body is None
    assert seen.assessment.verdict is Verdict.NOT_SURE
    assert seen.guidance.action is Action.NOT_SURE
    assert "face or hips" in told(seen, chosen).why
    assert told(seen, chosen).caution == "look where you go"
    gone = last_moment(chosen, lambda i: [hand] if i < 10 else [], pictures=40)
    assert gone.guidance.action is Action.NO_ONE


def test_a_distance_by_another_sized_picture_is_not_carried_on():
    """As when black bars are cut off: it was told by another focal length."""
    chosen = set_up()
    assistant = Assistant(chosen, PlacedDetector(lambda t: 4.0 if t < 1 else None, chosen))
    moments = [assistant.see(Frame(BLANK, k / 25, k)) for k in range(26)]
    assert moments[-1].pose is None
    assert eyes_of(moments[-1]) == pytest.approx(eyes_of(moments[-2]), abs=0.05)  # a short loss
    last = assistant.see(Frame(BLANK[:, 100:540], 26 / 25, 26))
    assert last.assessment.verdict is Verdict.NO_ONE
