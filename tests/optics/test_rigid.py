"""Checked against OpenCV's transforms: Rodrigues, composeRT and projectPoints."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optics.camera import PinholeCamera
from optics.errors import ImpossibleValueError
from optics.rigid import RigidOffset

metres = st.floats(-2, 2)
turns = st.floats(-1.2, 1.2)
POINTS = np.array([[0.3, -0.5, 3.0], [-0.4, 0.9, 4.2], [0.0, 0.0, 2.0]])


def composed(offset):
    """The same from OpenCV: roll, then pitch, then yaw about fixed axes, then the shift.

    As matrices: on the way back from a matrix to an axis and angle, OpenCV takes a turn of a
    hundred-thousandth of a radian for none.
    """
    about = [
        np.array([0, 0, offset.roll_rad]),
        np.array([offset.pitch_rad, 0, 0]),
        np.array([0, offset.yaw_rad, 0]),
    ]
    rotation = np.eye(3)
    for turn in about:
        rotation = cv2.Rodrigues(turn)[0] @ rotation
    return rotation, offset.position_m


@given(metres, metres, metres, turns, turns, turns)
def test_projection_agrees_with_opencv(along, across, up, yaw, pitch, roll):
    offset = RigidOffset(along, across, up, yaw, pitch, roll)
    rotation, shift = composed(offset)
    moved = offset.to_taking(POINTS)
    if (moved[:, 2] < 0.2).any():
        return
    camera = PinholeCamera.from_focal_length_px(1000.0, 1280, 720)
    none = np.zeros(3)
    seen = POINTS @ rotation.T + shift
    theirs = cv2.projectPoints(seen, none, none, camera.opencv_matrix, None)[0][:, 0]
    assert camera.project(moved) - 0.5 == pytest.approx(theirs, rel=1e-9, abs=1e-6)


@given(metres, metres, metres, turns, turns, turns)
def test_there_and_back(along, across, up, yaw, pitch, roll):
    offset = RigidOffset(along, across, up, yaw, pitch, roll)
    assert offset.to_feed(offset.to_taking(POINTS)) == pytest.approx(POINTS, abs=1e-12)
    assert offset.depth_in_taking_m(POINTS) == pytest.approx(offset.to_taking(POINTS)[:, 2])


def test_signs_are_those_of_the_words():
    ahead = np.array([0.0, 0.0, 3.0])
    assert RigidOffset(along_m=0.5).depth_in_taking_m(ahead) == pytest.approx(3.5)
    assert RigidOffset(across_m=0.2).to_taking(ahead)[0] == pytest.approx(0.2)
    assert RigidOffset(up_m=0.3).to_taking(ahead)[1] == pytest.approx(-0.3)
    right = RigidOffset(yaw_rad=math.radians(10)).to_taking(ahead)
    assert right[0] > 0 and right[2] == pytest.approx(3 * math.cos(math.radians(10)))
    assert RigidOffset(pitch_rad=math.radians(10)).to_taking(ahead)[1] < 0
    beside = RigidOffset(roll_rad=math.radians(90)).to_taking(np.array([1.0, 0.0, 3.0]))
    assert beside == pytest.approx([0.0, 1.0, 3.0], abs=1e-12)


def test_refuses_what_is_no_place():
    with pytest.raises(ImpossibleValueError, match="up_m"):
        RigidOffset(up_m=math.nan)
