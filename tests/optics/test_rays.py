"""Directions of sight and of the ground."""

import math

import numpy as np
import pytest

from optics.rays import rotation_to_ray, straight_down


@pytest.mark.parametrize("tilt_deg", [-30.0, 0.0, 15.0, 80.0])
@pytest.mark.parametrize("roll_deg", [0.0, -7.0, 45.0])
def test_straight_down_is_a_unit_vector_that_tilt_and_roll_tell(tilt_deg, roll_deg):
    down = straight_down(math.radians(tilt_deg), math.radians(roll_deg))
    assert np.linalg.norm(down) == pytest.approx(1.0)
    # Tilted downwards, the axis comes nearer to it by as much; rolled, the horizon turns.
    assert math.degrees(math.asin(down[2])) == pytest.approx(tilt_deg)
    assert math.degrees(math.atan2(down[0], down[1])) == pytest.approx(roll_deg)


def test_a_level_camera_has_down_along_its_pictures_columns():
    assert straight_down(0.0) == pytest.approx([0.0, 1.0, 0.0])


def test_rotation_to_a_ray_takes_the_axis_there():
    ray = np.array([0.3, -0.2, 1.0]) / np.linalg.norm([0.3, -0.2, 1.0])
    turn = rotation_to_ray(ray)
    assert turn @ [0.0, 0.0, 1.0] == pytest.approx(ray)
    assert turn @ turn.T == pytest.approx(np.eye(3))
