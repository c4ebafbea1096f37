"""A body of unknown stature whose head is too large for an adult's; a rendered child walks in
`tests/assist/test_other_bodies.py`."""

import math

import numpy as np
import pytest

from assist.distance.childlike import HeadAgainstBody
from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.guidance.guide import Action, Reason, Why
from assist.guidance.verdict import Verdict
from assist.setup import set_up
from assist.setup.body import CHILD_STATURE_M, GROWN_STATURE_M, Person, shape_from_stature
from tests.assist.footage import SET_UP, SIZE_PX, PlacedDetector


def watched(log_ratio, *, seconds=2.0, rate_hz=10.0, folded=0.0):
    watch = HeadAgainstBody()
    for k in range(round(seconds * rate_hz) + 1):
        watch.tell(k / rate_hz, 4.0 * math.exp(log_ratio), 4.0, folded)
    return watch


@pytest.mark.parametrize(("log_ratio", "childlike"), [(-0.06, False), (0.05, False), (0.16, True)])
def test_the_head_against_the_body(log_ratio, childlike):
    assert watched(log_ratio).childlike is childlike


def test_a_moment_or_a_folded_body_tells_nothing():
    assert not watched(0.3, seconds=0.3).told
    assert not watched(0.3, folded=0.8).told
    watch = watched(0.3)
    watch.forget()
    assert not watch.told
    assert not watch.childlike


def test_the_mean_counts_and_not_one_picture():
    watch = watched(0.0)
    watch.tell(2.1, 6.0, 4.0, 0.0)
    assert not watch.childlike


def moments_of(values, place=lambda _: 4.1):
    chosen = set_up.from_values(values)
    assistant = Assistant(chosen, PlacedDetector(place, chosen))
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    return [assistant.see(Frame(picture, k / 10, k)) for k in range(30)]


def last_of(values):
    return moments_of(values)[-1]


def test_without_stature_and_without_a_face_nobody_is_said_to_be_in_focus():
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["lens"]["f_number"] = 8.0  # deep enough for an adult of unknown stature
    assert last_of(values).assessment.verdict is Verdict.IN_FOCUS
    del values["person"]["stature_m"]
    moment = last_of(values)
    assert moment.assessment.p_in_focus == pytest.approx(
        2 / 3, abs=0.01
    )  # as likely as not an adult
    assert moment.assessment.verdict is Verdict.NOT_SURE
    assert moment.guidance.why == Why(Reason.MAYBE_SMALL)


def test_whoever_walks_in_without_a_face_is_stopped_but_not_told_that_it_will_be_sharp():
    values = SET_UP.model_dump(mode="json", exclude_none=True)
    values["lens"]["f_number"] = 8.0
    for known in (True, False):
        if not known:
            del values["person"]["stature_m"]
        moments = moments_of(values, lambda time_s: 7.0 - 1.1 * time_s)
        stopped = {m.guidance.why.reason for m in moments if m.guidance.action is Action.STOP}
        sure = {Reason.NEARLY_THERE, Reason.ARRIVED}
        assert stopped
        assert stopped <= (sure if known else {Reason.MAYBE_SMALL})


def test_small_statures_tell_less():
    grown, child = (
        shape_from_stature(GROWN_STATURE_M, 0.01),
        shape_from_stature(CHILD_STATURE_M, 0.01),
    )
    assert shape_from_stature(1.90, 0.01).scale_sd == grown.scale_sd < child.scale_sd
    assert shape_from_stature(0.90, 0.01).scale_sd == child.scale_sd
    # A stature stated to some centimetres says less of a small body.
    assert Person(1.20).shape.scale_sd > child.scale_sd > Person(1.90).shape.scale_sd
