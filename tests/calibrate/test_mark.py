"""Marks with exact synthetic bodies: what goes in must come out."""

import re
from dataclasses import replace
from datetime import datetime, timezone

import numpy as np
import pytest

from assist.base.errors import UserError
from assist.calibrate.mark import Mark, MarkPicture, learn
from assist.distance.cues.joint_fit import AXIS, JOINTS
from assist.distance.engine import DistanceEngine
from assist.setup import personal_profile as profiles
from assist.setup.body import ADULT_STATURE_M, Person
from assist.setup.personal_profile import PersonalProfile
from optics.camera import PinholeCamera
from tests.assist.synthetic import real_body_m, standing_pose

CAMERA = PinholeCamera.from_focal_length_px(1250.0, 1280, 720)
TURNS = (0.0, 30.0, -40.0, 15.0, 60.0, -20.0)


def pictures(hips_z_m, *, stature_m=ADULT_STATURE_M, camera=CAMERA, assumed=None, across_m=0.0):
    """Two dozen pictures of a body turning on a mark, its axis's depth known."""
    found = []
    for i in range(24):
        turn = TURNS[i % len(TURNS)]
        body = real_body_m(stature_m, turn)
        axis_m = hips_z_m + float(AXIS @ body[JOINTS, 2])
        pose = standing_pose(
            camera, hips_z_m, stature_m=stature_m, turn_deg=turn, across_m=across_m
        )
        found.append(MarkPicture(assumed or camera, pose, i / 5, axis_m))
    return found


@pytest.mark.parametrize("stature_m", [1.50, 1.69, 1.95])
def test_size_is_learned_without_a_stature(stature_m):
    learned = learn([Mark(pictures(z, stature_m=stature_m)) for z in (3.0, 4.0, 5.0)])
    assert learned.profile.scale == pytest.approx(stature_m / ADULT_STATURE_M, rel=0.02)
    engine = DistanceEngine(CAMERA, Person(profile=learned.profile))
    found = engine.measure(standing_pose(CAMERA, 3.5, stature_m=stature_m), 0.0)
    assert found.hips_m == pytest.approx(3.5, rel=0.02)
    stranger = DistanceEngine(CAMERA, Person()).measure(standing_pose(CAMERA, 3.5), 0.0)
    assert found.eyes_sd_m < stranger.eyes_sd_m


def test_more_marks_leave_less_doubt():
    one = learn([Mark(pictures(3.0))])
    three = learn([Mark(pictures(z)) for z in (3.0, 4.0, 5.0)])
    assert three.profile.scale_sd < one.profile.scale_sd


def test_unknown_focal_length_only_the_product_is_known_and_that_is_said():
    assumed = PinholeCamera.from_focal_length_px(1000.0, 1280, 720)
    marks = [Mark(pictures(z, stature_m=1.8, assumed=assumed)) for z in (3.0, 4.0)]
    learned = learn(marks, focal_prior_sd=None)
    product = learned.separation.focal * learned.separation.size
    assert product == pytest.approx(1.25 * 1.8 / ADULT_STATURE_M, rel=0.03)
    assert "could not be told apart" in learned.separation.in_words()


def test_steps_to_the_side_find_the_focal_length():
    assumed = PinholeCamera.from_focal_length_px(1000.0, 1280, 720)
    marks = [
        Mark(pictures(4.0, stature_m=1.8, assumed=assumed, across_m=x), x) for x in (-1.2, 0.0, 1.2)
    ]
    learned = learn(marks, focal_prior_sd=None)
    assert learned.separation.focal == pytest.approx(1.25, rel=0.03)
    assert learned.profile.scale == pytest.approx(1.8 / ADULT_STATURE_M, rel=0.03)


def test_too_few_pictures():
    with pytest.raises(UserError, match="only 3 of 3"):
        learn([Mark(pictures(3.0)[:3])])


def profile(**changes):
    values = {
        "learned_at": datetime(2025, 5, 4, 12, 0, tzinfo=timezone.utc),
        "scale": 1.02,
        "scale_sd": 0.012,
        "segments_m": {"thigh": 0.38},
    }
    return PersonalProfile(**{**values, **changes})


def test_file_round_trip_and_no_silent_overwriting(tmp_path):
    path = tmp_path / "me.toml"
    profiles.save(profile(name="Zoë"), path)
    assert profiles.load(path) == profile(name="Zoë")
    with pytest.raises(UserError, match="exists"):
        profiles.save(profile(), path)
    profiles.save(profile(), path, replace=True)
    assert profiles.load(path).name == ""


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("scale = 1", "learned_at"),
        ("scale = [", "not TOML"),
        ("learned_at = 2025-05-04T12:00:00Z\nscale = 9.0\nscale_sd = 0.01", "scale"),
        ("learned_at = 2025-05-04T12:00:00Z\nscale = 1.0\nscale_sd = 0.01\nx = 1", "x"),
        ("version = 7\nlearned_at = 2025-05-04T12:00:00Z\nscale = 1.0\nscale_sd = 0.01", "version"),
    ],
)
def test_bad_files_are_told_in_one_line(tmp_path, text, what):
    path = tmp_path / "me.toml"
    path.write_text(text)
    with pytest.raises(UserError, match=what) as caught:
        profiles.load(path)
    assert "\n" not in str(caught.value)


def test_missing_file(tmp_path):
    with pytest.raises(UserError, match="does not exist"):
        profiles.load(tmp_path / "none.toml")


def test_unlearned_segments_come_from_the_scale():
    shape = Person(profile=profile()).shape
    assert shape.segments_m["thigh"] == 0.38
    usual = Person(ADULT_STATURE_M * 1.02, measured=True).shape
    assert shape.segments_m["shank"] == pytest.approx(usual.segments_m["shank"])
    assert np.isfinite(list(shape.segments_m.values())).all()


def stood_at(hips_z_m, said_m, **more):
    """A mark where somebody stands at one depth, and the tape was read as another."""
    off = said_m / hips_z_m
    found = [replace(p, axis_m=p.axis_m * off) for p in pictures(hips_z_m)]
    return Mark(found, stated=f"{said_m:g}m", **more)


@pytest.mark.parametrize("said_m", [2.0, 8.0, 13.0, 30.0])
def test_a_mark_that_contradicts_the_stature_is_refused_and_not_averaged(said_m):
    with pytest.raises(UserError, match=rf"mark at {said_m:g}m would make you") as error:
        learn([stood_at(4.0, said_m)], stature_m=ADULT_STATURE_M)
    [times] = re.findall(r"([\d.]+) times as large as you stated", str(error.value))
    assert float(times) == pytest.approx(said_m / 4, rel=0.1)


def test_of_somebody_whose_stature_is_unknown_more_is_believed_but_not_all():
    learned = learn([stood_at(4.0, 4.6)])
    assert learned.profile.scale == pytest.approx(1.13, abs=0.03)
    with pytest.raises(UserError, match=r"as large as an adult is: .*, and give --stature"):
        learn([stood_at(4.0, 8.0)])


def test_marks_that_contradict_each_other_are_refused_whatever_is_known():
    swapped = [stood_at(3.0, 5.0), stood_at(5.0, 3.0)]
    with pytest.raises(UserError, match="marks at 5m and 3m contradict each other"):
        learn(swapped, focal_prior_sd=None)
    learn([stood_at(3.0, 3.1), stood_at(5.0, 5.1)], focal_prior_sd=None)


def at_depths(depths_m, *, assumed=None):
    """A mark said to be at 4 m, with the body at these depths one after the other."""
    found = []
    for i, z in enumerate(depths_m):
        turn = TURNS[i % len(TURNS)]
        pose = standing_pose(CAMERA, z, turn_deg=turn)
        found.append(MarkPicture(assumed or CAMERA, pose, i / 5, 4.0))
    return Mark(found, stated="4m")


WALK = np.linspace(1.7, 5.4, 40)
AT_LAST = np.concatenate([np.linspace(6.0, 4.0, 10), np.full(30, 4.0)])


@pytest.mark.parametrize("depths_m", [WALK, AT_LAST])
def test_who_walks_about_while_the_mark_is_watched_is_told_so(depths_m):
    with pytest.raises(UserError, match=r"you moved between .* while the mark at 4m was") as told:
        learn([at_depths(depths_m)], stature_m=ADULT_STATURE_M)
    low_m, high_m = map(float, re.findall(r"([\d.]+) (?:and|m)", str(told.value))[:2])
    assert low_m == pytest.approx(np.percentile(depths_m, 5), rel=0.15)
    assert high_m == pytest.approx(np.percentile(depths_m, 95), rel=0.15)


def test_so_is_who_walks_before_a_camera_of_unknown_focal_length():
    half = PinholeCamera.from_focal_length_px(625.0, 1280, 720)
    with pytest.raises(UserError, match="you moved between"):
        learn([at_depths(WALK, assumed=half)], focal_prior_sd=None)
    still = learn([at_depths(np.full(24, 4.0), assumed=half)], focal_prior_sd=None)
    assert still.separation.focal * still.separation.size == pytest.approx(2.0, rel=0.05)


def test_stepping_in_place_and_one_misread_picture_are_no_walk():
    depths_m = 4.0 + 0.25 * np.sin(np.arange(40.0))
    depths_m[20] = 7.0
    learned = learn([at_depths(depths_m)], stature_m=ADULT_STATURE_M)
    assert learned.profile.scale == pytest.approx(1.0, rel=0.03)


def test_pictures_left_out_are_counted_with_the_reason():
    mark = stood_at(3.0, 3.0)
    hidden = [
        replace(p, pose=replace(p.pose, visibility=np.zeros_like(p.pose.visibility)))
        for p in mark.pictures[:8]
    ]
    learned = learn([replace(mark, pictures=[*hidden, *mark.pictures])])
    assert learned.left_out == {"too little of you was seen": 8}
    assert learned.used == learned.fit == len(mark.pictures)


def test_more_pictures_than_are_needed_are_not_left_out():
    mark = stood_at(3.0, 3.0)
    many = [replace(p, time_s=k / 5) for k, p in enumerate([*mark.pictures] * 4)]
    learned = learn([replace(mark, pictures=many)])
    assert learned.left_out == {}
    assert learned.fit == 4 * len(mark.pictures)
    assert learned.used == learned.fit / 2
