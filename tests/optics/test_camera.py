"""The pinhole camera against OpenCV's projectPoints, undistortPoints and picture operations."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from optics.camera import PinholeCamera
from optics.errors import ImpossibleValueError
from optics.sensor import FORMATS

# As strong as ordinary lenses distort; stronger ones fold over and have no inverse.
distortions = st.tuples(
    st.floats(-0.2, 0.2), st.floats(-0.05, 0.05), st.floats(-0.003, 0.003),
    st.floats(-0.003, 0.003), st.floats(-0.01, 0.01),
)  # fmt: skip
cameras = st.builds(
    PinholeCamera,
    st.integers(320, 4000),
    st.integers(240, 3000),
    st.floats(2000, 6000),
    st.floats(2000, 6000),
    st.floats(200, 2000),
    st.floats(200, 1500),
    distortions,
)
points = arrays(np.float64, (7, 3), elements=st.floats(-0.4, 0.4)).map(
    lambda xyz: (xyz + np.array([0, 0, 1.5])) * 3
)


def opencv_pixels(camera, points_m):
    """OpenCV's projection, moved by half a pixel to pixel edges."""
    seen, _ = cv2.projectPoints(
        points_m, np.zeros(3), np.zeros(3), camera.opencv_matrix, np.array(camera.distortion)
    )
    return seen[:, 0] + 0.5


@given(cameras, points)
def test_projection_is_opencvs(camera, points_m):
    assert camera.project(points_m) == pytest.approx(opencv_pixels(camera, points_m), abs=1e-6)


@settings(deadline=None)
@given(cameras, points)
def test_undistortion_is_opencvs(camera, points_m):
    pixels = camera.project(points_m)
    criteria = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 50, 1e-12)
    found = cv2.undistortPointsIter(
        (pixels - 0.5)[:, None], camera.opencv_matrix, np.array(camera.distortion), None, None,
        criteria,
    )  # fmt: skip
    assert camera.normalised(pixels) == pytest.approx(found[:, 0], abs=1e-6)


@given(cameras, points)
def test_back_projection_inverts_projection(camera, points_m):
    back = camera.back_project(camera.project(points_m), points_m[:, 2])
    assert back == pytest.approx(points_m, abs=1e-6)


@given(cameras)
def test_opencvs_matrix_and_back(camera):
    again = PinholeCamera.from_opencv(
        camera.opencv_matrix, camera.width_px, camera.height_px, camera.distortion
    )
    assert again.distortion == camera.distortion
    assert (again.cx_px, again.cy_px) == pytest.approx((camera.cx_px, camera.cy_px), abs=1e-9)


@given(cameras, points)
def test_mirrored_camera_sees_the_flipped_picture(camera, points_m):
    """A point at -x in the mirrored camera lies where the picture flipped by cv2.flip has it."""
    flipped = camera.mirrored().project(points_m * [-1, 1, 1])
    seen = camera.project(points_m)
    assert flipped == pytest.approx(np.column_stack([camera.width_px - seen[:, 0], seen[:, 1]]))
    assert camera.mirrored().mirrored().distortion == camera.distortion


@given(cameras, points, st.integers(-3, 6))
def test_rotated_camera_sees_the_turned_picture(camera, points_m, quarters):
    """Against np.rot90, which turns the other way: the world turns with the picture."""
    turned = camera.rotated(quarters)
    seen = camera.project(points_m)
    width, height = camera.width_px, camera.height_px
    world = points_m.copy()
    for _ in range(quarters % 4):
        seen = np.column_stack([height - seen[:, 1], seen[:, 0]])
        world = world[:, [1, 0, 2]] * [-1, 1, 1]
        width, height = height, width
    assert (turned.width_px, turned.height_px) == (width, height)
    assert turned.project(world) == pytest.approx(seen, abs=1e-6)


def test_the_quarter_turn_is_opencvs():
    """A bright pixel through cv2.rotate lands where the turned camera's arithmetic says."""
    picture = np.zeros((30, 50), np.uint8)
    picture[7, 12] = 255
    turned = cv2.rotate(picture, cv2.ROTATE_90_CLOCKWISE)
    row, column = (int(x[0]) for x in np.nonzero(turned))
    camera = PinholeCamera.from_focal_length_px(100, 50, 30)
    point = camera.back_project([12.5, 7.5], 2.0)
    seen = camera.rotated(1).project(point[[1, 0, 2]] * [-1, 1, 1])
    assert seen == pytest.approx([column + 0.5, row + 0.5])


@given(cameras, points, st.integers(1, 100), st.integers(1, 100))
def test_cropped_and_scaled_cameras_see_the_cropped_and_scaled_picture(camera, points_m, left, top):
    seen = camera.project(points_m)
    cropped = camera.cropped(left, top, 200, 100)
    assert cropped.project(points_m) == pytest.approx(seen - [left, top], abs=1e-9)
    half = camera.scaled(camera.width_px // 2, camera.height_px)
    assert half.project(points_m)[:, 0] == pytest.approx(
        seen[:, 0] * (camera.width_px // 2) / camera.width_px, rel=1e-12, abs=1e-9
    )


@given(st.floats(0.1, 2.9), st.sampled_from(["horizontal", "vertical", "diagonal"]))
def test_field_of_view_is_what_opencv_reads_back(angle, along):
    camera = PinholeCamera.from_field_of_view(angle, 1600, 900, along)
    across, up, *_ = cv2.calibrationMatrixValues(
        camera.opencv_matrix, (1600, 900), 0.0, 0.0
    )  # its principal point is half a pixel off ours, which the angle does not show
    if along == "horizontal":
        assert math.radians(across) == pytest.approx(angle, rel=1e-5)
        assert camera.horizontal_field_of_view_rad == pytest.approx(angle, rel=1e-12)
    elif along == "vertical":
        assert math.radians(up) == pytest.approx(angle, rel=1e-5)
        assert camera.vertical_field_of_view_rad == pytest.approx(angle, rel=1e-12)
    else:
        corners = camera.normalised([[0.0, 0.0], [1600.0, 900.0]])
        directions = np.column_stack([corners, np.ones(2)])
        cosine = directions[0] @ directions[1] / np.prod(np.linalg.norm(directions, axis=1))
        assert math.acos(cosine) == pytest.approx(angle, rel=1e-9)


def test_a_focused_lens_has_a_longer_focal_length_in_pixels():
    """v = f s / (s - f): 1.7 % longer at 50 mm and 3 m."""
    far = PinholeCamera.from_lens(FORMATS["full-frame"], 0.05, math.inf, 6000, 4000)
    near = PinholeCamera.from_lens(FORMATS["full-frame"], 0.05, 3.0, 6000, 4000)
    cropped = PinholeCamera.from_lens(FORMATS["full-frame"], 0.05, 3.0, 6000, 3375, crop=1.5)
    assert far.fx_px == pytest.approx(0.05 / 0.036 * 6000)
    assert near.fx_px / far.fx_px == pytest.approx(3 / 2.95, rel=1e-12)
    assert cropped.fx_px == pytest.approx(1.5 * near.fx_px, rel=1e-12)


def test_pixels_are_as_large_however_the_picture_is_cut_from_the_sensor():
    sensor = FORMATS["full-frame"]
    whole = PinholeCamera.from_lens(sensor, 0.05, 3.0, 6000, 4000)
    for size in ((6000, 3375), (5333, 4000), (4000, 4000), (4000, 6000), (4000, 5333)):
        assert sensor.pixel_pitch_m(*size) == pytest.approx(6e-6)
        assert PinholeCamera.from_lens(sensor, 0.05, 3.0, *size).fx_px == pytest.approx(whole.fx_px)


def test_points_behind_the_camera_have_no_pixels():
    camera = PinholeCamera.from_focal_length_px(1000, 640, 480)
    assert np.isnan(camera.project([[0, 0, -1], [0, 0, 0]])).all()


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: PinholeCamera.from_field_of_view(math.pi, 640, 480), "under 180"),
        (lambda: PinholeCamera.from_field_of_view(1, 640, 480, "across"), "along horizontal"),
        (lambda: PinholeCamera.from_focal_length_px(0, 640, 480), "above zero"),
        (
            lambda: PinholeCamera.from_lens(FORMATS["full-frame"], 0.05, 3, 640, 480, crop=0.5),
            "crop must be at least 1",
        ),
        (
            lambda: PinholeCamera.from_lens(FORMATS["full-frame"], 0.05, 3, 640, 0),
            "picture height must be above zero",
        ),
        (
            lambda: PinholeCamera.from_focal_length_px(9, 640, 480).cropped(600, 0, 100, 100),
            "leaves the picture",
        ),
        (
            lambda: PinholeCamera.from_opencv(np.eye(3), 9, 9, [0, 0, 0, 0, 0, 0.1]),
            "five distortion",
        ),
    ],
)
def test_impossible_cameras_are_refused(call, says):
    with pytest.raises(ImpossibleValueError, match=says):
        call()
