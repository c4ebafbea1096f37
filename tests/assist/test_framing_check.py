import dataclasses

import numpy as np
import pytest

from assist.pose import framing as framing_check
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

WIDE = PinholeCamera.from_focal_length_px(900.0, 1280, 720)
LONG = PinholeCamera.from_focal_length_px(1800.0, 1280, 720)


def test_whole_person():
    found = framing_check.check(standing_pose(WIDE, 4.0, hips_y_m=0.0))
    assert found.shows == "full body"
    assert found.cut == ()
    assert found.across == pytest.approx(0.5)
    assert 0.05 < found.headroom < 0.3


@pytest.mark.parametrize(("hips_z_m", "hips_y_m", "shows"),
                         [(4.0, 0.25, "knees-up"), (2.6, 0.25, "waist-up"),
                          (1.6, 0.6, "head and shoulders")])  # fmt: skip
def test_nearer_shows_less(hips_z_m, hips_y_m, shows):
    found = framing_check.check(standing_pose(LONG, hips_z_m, hips_y_m=hips_y_m))
    assert found.shows == shows
    assert "feet" in found.cut


def test_head_cut():
    assert "head" in framing_check.check(standing_pose(WIDE, 4.0, hips_y_m=-1.0)).cut


@pytest.mark.parametrize("x_m", [-3.0, 3.0])
def test_a_head_beyond_a_side_is_cut(x_m):
    pose = standing_pose(WIDE, 4.0)
    aside = dataclasses.replace(pose, image_px=pose.image_px + np.array([x_m * 225, 0]))
    assert "head" in framing_check.check(aside).cut


FACING = {0: True, 30: True, -60: True, 85: True, 180: False, 150: False, -95: False}


@pytest.mark.parametrize(("turn_deg", "facing"), FACING.items())
def test_facing(turn_deg, facing):
    assert framing_check.faces_camera(standing_pose(WIDE, 4.0, turn_deg=turn_deg)) is facing
