"""A picture that lies on its side is noticed by who stands in it, and nobody who lies or bends."""

from dataclasses import replace

import numpy as np
import pytest

from assist.feed import Frame
from assist.guidance import advice
from assist.guidance.assistant import Assistant, Known
from assist.guidance.guide import Reason, Why
from assist.pose import Pose
from assist.pose.picture_rotation import PictureRotationWatch
from assist.run.feed_remarks import FeedRemarks
from assist.setup.set_up import from_values
from optics.camera import PinholeCamera
from tests.assist import telling
from tests.assist.footage import SET_UP, PlacedDetector
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera.from_focal_length_px(900.0, 1280, 720)
RATE_HZ = 10
NO_DETECTOR = PlacedDetector(lambda _: None)


def seen(turned_deg: int, lean_deg: float = 0.0, turn_deg: float = 0.0) -> Pose:
    """Somebody upright, leaning, in a picture that was turned clockwise."""
    pose = standing_pose(CAMERA, 4.0, turn_deg=turn_deg)
    a = np.radians(turned_deg + lean_deg)
    clockwise = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    middle = np.array([640.0, 360.0])
    return replace(pose, image_px=(pose.image_px - middle) @ clockwise.T + middle)


def watched(*parts):
    """What is believed after so many seconds of each pose, one after the other."""
    watch, time_s = PictureRotationWatch(), 0.0
    for pose, seconds in parts:
        for _ in range(round(seconds * RATE_HZ)):
            watch.update(time_s, pose)
            time_s += 1 / RATE_HZ
    return watch.turn_deg


@pytest.mark.parametrize("lean_deg", [-20.0, 0.0, 20.0])
@pytest.mark.parametrize("turned_deg", [90, 180, 270])
def test_the_turn_that_sets_the_picture_right(turned_deg, lean_deg):
    assert watched((seen(turned_deg, lean_deg), 4.5)) == (360 - turned_deg) % 360


UPRIGHT, LYING = seen(0), seen(90)


@pytest.mark.parametrize(
    "parts",
    [
        [(UPRIGHT, 10)],
        [(seen(0, 20), 10)],
        [(seen(0, 45), 10)],
        [(LYING, 3), (UPRIGHT, 2)],
        [(UPRIGHT, 2), (LYING, 60)],
        [(LYING, 3), (seen(0, 45), 3), (LYING, 3)],
        [(None, 10), (LYING, 3)],
        [(LYING, 20), (UPRIGHT, 2)],
        [(replace(LYING, visibility=np.zeros(33)), 20)],
        [(seen(90, turn_deg=90), 0.5), (UPRIGHT, 2)],
    ],
    ids=str,
)
def test_who_stands_leans_bends_or_lies_down_is_left_alone(parts):
    assert watched(*parts) is None


def moments(pose, seconds, **more):
    """What the assistant makes of somebody seen so."""
    assistant = Assistant(SET_UP, NO_DETECTOR, known=Known(), **more)
    picture = np.zeros((720, 1280, 3), np.uint8)
    return [
        assistant.think(Frame(picture, k / RATE_HZ, k), [pose])
        for k in range(round(seconds * RATE_HZ))
    ]


@pytest.mark.parametrize(("rotated_deg", "advised"), [(0, 270), (90, 0), (180, 90)])
def test_it_is_the_reason_on_the_screen_for_a_while(rotated_deg, advised):
    told = moments(LYING, 20, rotated_deg=rotated_deg)
    hint = Why(Reason.ON_ITS_SIDE, rotate_deg=advised)
    at = [m.frame.time_s for m in told if m.guidance.why == hint]
    assert at[0] == pytest.approx(4.0, abs=0.2)
    assert at[-1] == pytest.approx(14.0, abs=0.2)
    assert {m.person.rotate_deg for m in told} == {None, advised}
    assert (
        f"--rotate {advised}" in telling.told(next(m for m in told if m.guidance.why == hint)).why
    )
    lying = [m for m in told if m.person.rotate_deg is not None]
    assert not [m for m in lying if advice.TurnToCamera() in m.guidance.advice]


def noted(moments, **camera):
    lines = []
    values = SET_UP.model_dump(exclude_unset=True)
    remarks = FeedRemarks(from_values({**values, "camera": camera}), lines.append)
    for moment in moments:
        remarks.see(moment)
    return lines


def test_the_terminal_says_it_once():
    [line] = noted(moments(LYING, 12))
    assert line.endswith("give --rotate 270")
    assert noted(moments(UPRIGHT, 12)) == []


@pytest.mark.parametrize(
    ("camera", "lines"),
    [({"orientation": "portrait"}, 1), ({"orientation": "landscape"}, 0), ({}, 0)],
)
def test_an_orientation_that_is_not_the_feeds_is_remarked_once(camera, lines):
    found = noted(moments(UPRIGHT, 1), **camera)
    assert len(found) == lines
    if found:
        assert "portrait, and the feed's picture is landscape (1280 x 720)" in found[0]
