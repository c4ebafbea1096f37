"""Left and right exchanged: noticed by somebody who follows the words the wrong way."""

import numpy as np
import pytest

from assist.feed import Frame
from assist.guidance.advice import Exchanged, Sideways
from assist.guidance.assistant import Assistant
from assist.guidance.guide import Action
from assist.guidance.mirror_watch import MirrorWatch
from assist.guidance.narrator import Narrator
from assist.pose import PoseDetector
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import from_values
from tests.assist.footage import SIZE_PX
from tests.assist.synthetic import standing_pose

RIGHT, LEFT = Sideways(0.8, True), Sideways(-0.8, False)


def suspected(told, way, seconds=4.0):
    """After somebody told so has gone `way(time_s)` metres to the picture's right."""
    watch = MirrorWatch()
    for index in range(round(seconds * 20)):
        watch.update(index / 20, told, way(index / 20))
    return watch.suspected


def later(speed, start_s=1.0):
    """Stands, and then goes."""
    return lambda time_s: max(time_s - start_s, 0.0) * speed


@pytest.mark.parametrize(
    ("told", "speed", "mirrored"),
    [(RIGHT, 0.5, False), (RIGHT, -0.5, True), (LEFT, 0.5, True), (LEFT, -0.5, False)],
)
def test_whoever_goes_the_other_way_than_told(told, speed, mirrored):
    assert suspected(told, later(speed)) is mirrored


@pytest.mark.parametrize(
    "way",
    [
        lambda time_s: 0.1 * np.sin(3 * time_s),  # stands
        lambda time_s: -0.6 * time_s,  # is on the way already, follows nothing
        lambda time_s: -0.3 * min(max(time_s - 1, 0.0), 1.0),  # a step to look
    ],
)
def test_nothing_is_learned_of_somebody_who_does_not_follow(way):
    assert not suspected(RIGHT, way)


class Follower(PoseDetector):
    """Somebody at 4 m who stands too far to one side and goes the wrong way when told."""

    def __init__(self, set_up, mirrored):
        self._camera = FeedGeometry.of(set_up).camera(*SIZE_PX)
        self._speed = 0.5 if mirrored else -0.5

    def detect(self, picture, time_s):
        across = 1.0 + min(max(time_s - 3.0, 0.0), 1.0) * self._speed
        return [standing_pose(self._camera, 4.0, across_m=across)]

    def close(self):
        pass


@pytest.mark.parametrize(("mirrored", "stated"), [(True, False), (True, True), (False, False)])
def test_the_run_asks_and_stops_telling_left_from_right(mirrored, stated):
    set_up = from_values(
        {
            "lens": {"focal_length_mm": 24, "f_number": 8, "focus_distance_m": 4.0},
            "person": {"stature_m": 1.69},
            "feed": {"mirrored": stated},
        }
    )
    assistant = Assistant(set_up, Follower(set_up, mirrored))
    narrator = Narrator(set_up.focus_zone)
    picture, told = np.zeros((*SIZE_PX[::-1], 3), np.uint8), []
    for index in range(150):
        told.append(assistant.see(Frame(picture, index / 25, index)))
    before, after = told[70].guidance, told[140].guidance
    assert before.action is Action.REFRAME
    assert isinstance(before.advice[0], Sideways)
    asked = [a for a in after.advice if isinstance(a, Exchanged)]
    if not mirrored:
        assert asked == []
        return
    assert asked == [Exchanged(stated)]
    assert not any(isinstance(advice, Sideways) for advice in after.advice)
    message = narrator.tell(told[140])
    option = "--feed-not-mirrored" if stated else "--feed-mirrored"
    assert option in (message.sentence, *message.also)[0]
    assert "exchanged" in message.spoken + message.advice_spoken
