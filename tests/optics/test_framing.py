"""Framing against OpenCV's camera and a numerical root finder."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from optics import figure, framing, lens
from optics.camera import PinholeCamera
from optics.errors import ImpossibleValueError
from optics.figure import Figure
from optics.sensor import FORMATS, Sensor

FULL = FORMATS["full-frame"]
orientations = st.sampled_from(["landscape", "portrait"])
sizes = st.sampled_from(framing.SHOT_SIZES)
statures = st.floats(1.2, 2.1)


def test_lower_edges_cut_between_joints():
    """Not through a joint: common practice, no source."""
    edges = {size.name: size.lower_edge for size in framing.SHOT_SIZES}
    assert edges["full body"] < 0
    assert figure.KNEE_HEIGHT < edges["knees-up"] < figure.HIP_HEIGHT
    assert figure.HIP_HEIGHT < edges["waist-up"] < 0.630  # the elbow
    assert edges["waist-up"] < edges["chest-up"] < figure.SHOULDER_HEIGHT
    assert edges["chest-up"] < edges["head and shoulders"] < figure.SHOULDER_HEIGHT


@given(st.floats(0.01, 0.6), st.floats(1.05, 200), st.sampled_from(list(FORMATS.values())))
def test_field_of_view_is_opencvs(f_m, multiple, sensor):
    """calibrationMatrixValues, in degrees, and its focal length, in millimetres."""
    v = lens.image_distance_m(f_m, f_m * multiple)
    width_px, height_px = 6000, round(6000 / sensor.aspect)
    pitch = sensor.width_m / width_px
    matrix = np.array([[v / pitch, 0, width_px / 2], [0, v / pitch, height_px / 2], [0, 0, 1]])
    across_deg, up_deg, focal_mm, _, _ = cv2.calibrationMatrixValues(
        matrix, (width_px, height_px), sensor.width_m * 1e3, height_px * pitch * 1e3
    )
    width, height = sensor.width_m, height_px * pitch
    assert math.degrees(framing.angle_of_view_rad(width, v)) == pytest.approx(across_deg, rel=1e-9)
    assert math.degrees(framing.angle_of_view_rad(height, v)) == pytest.approx(up_deg, rel=1e-9)
    assert v * 1e3 == pytest.approx(focal_mm, rel=1e-9)


@given(st.floats(0.01, 0.3), st.floats(2, 200), st.floats(0.2, 100))
def test_field_covered_is_what_the_angle_spans(f_m, multiple, z):
    v = lens.image_distance_m(f_m, f_m * multiple)
    angle = framing.angle_of_view_rad(0.036, v)
    covered = framing.field_covered_m(0.036, v, z)
    assert covered == pytest.approx(2 * z * math.tan(angle / 2), rel=1e-12)
    assert math.isinf(framing.field_covered_m(0.036, v, math.inf))


@given(st.floats(-0.2, 1.5), st.floats(0.2, 2.5), st.floats(0.1, 3.5), st.floats(0.05, 1.4))
def test_distance_to_fit_is_the_numerical_root(bottom, height_m, camera_m, angle):
    top = bottom + height_m
    try:
        x = framing.upright_distance_to_fit_m(bottom, top, camera_m, angle)
    except ImpossibleValueError:
        # Refused only when the region spans less than the angle from every distance.
        far = np.geomspace(1e-3, 1e3, 4000)
        spans = np.arctan((top - camera_m) / far) - np.arctan((bottom - camera_m) / far)
        assert spans.max() < angle
        return

    def missing(distance):
        span = math.atan((top - camera_m) / distance) + math.atan((camera_m - bottom) / distance)
        return span - angle

    assert abs(missing(x)) < 1e-9
    # The farther root: from beyond it the region always spans less.
    assert missing(x * 1.01) < 0
    assert x == pytest.approx(brentq(missing, x * 0.999, x * 1e3, xtol=1e-12), rel=1e-6)


@given(
    st.floats(0.2, 3.0), st.floats(-0.6, 0.6), st.floats(0.02, 0.2), st.floats(1.5, 12),
    statures, orientations,
)  # fmt: skip
def test_aim_is_what_opencv_projects(camera_m, tilt, f_m, eyes_m, stature, orientation):
    """The frame's edges and the eyes, put through projectPoints with the camera's rotation."""
    v = lens.image_distance_m(f_m, eyes_m)
    _, height = framing.frame_sides_m(FULL, orientation)
    angle = framing.angle_of_view_rad(height, v)
    assume(abs(tilt) + angle / 2 < 1.4)
    try:
        aim = framing.aim(camera_m, tilt, angle, figure.EYE_HEIGHT * stature, eyes_m)
    except ImpossibleValueError:
        eye_height = figure.EYE_HEIGHT * stature
        assert framing.upright_distance_m(eyes_m, eye_height, camera_m, tilt) <= 0
        return
    height_px = 4000.0
    focal_px = v / height * height_px
    matrix = np.array([[focal_px, 0, 2000.0], [0, focal_px, height_px / 2], [0, 0, 1]])
    # World from the lens: x right, y down, z away. Tilting down turns the axis to the ground.
    turn = np.array([tilt, 0.0, 0.0])
    eyes = figure.EYE_HEIGHT * stature
    x = aim.upright_distance_m
    points = np.array([[0, camera_m - y, x] for y in (aim.top_m, aim.bottom_m, eyes)])
    seen, _ = cv2.projectPoints(points, turn, np.zeros(3), matrix, None)
    top_px, bottom_px, eyes_px = seen[:, 0, 1]
    assert top_px == pytest.approx(0, abs=1e-6)
    assert bottom_px == pytest.approx(height_px, abs=1e-6)
    assert eyes_px / height_px == pytest.approx(aim.eyes_from_top, abs=1e-9)
    depth = (cv2.Rodrigues(turn)[0] @ points[2])[2]
    assert depth == pytest.approx(eyes_m, rel=1e-9)


@given(
    sizes, statures, orientations, st.floats(0.02, 0.2), st.floats(1.0, 1.4),
    st.one_of(st.none(), st.floats(0.3, 2.4)), st.one_of(st.none(), st.floats(-0.1, 0.2)),
)  # fmt: skip
def test_what_is_not_settled_puts_the_frame_where_the_shot_size_has_it(
    size, stature, orientation, f_m, looser, camera_m, tilt
):
    """Headroom is kept however the camera is held, unless both height and tilt are settled."""
    assume(camera_m is None or tilt is None)
    wanted = framing.Wanted(size, Figure(stature), FULL, orientation, 0.08, camera_m, tilt)
    s = framing.focus_distance_to_fit_m(wanted, f_m)
    assume(math.isfinite(s))
    s = f_m + (s - f_m) * looser
    angle = framing.angle_of_view_rad(wanted.side_m, lens.image_distance_m(f_m, s))
    aim = framing.aim_for(wanted, angle, s)
    if tilt is None and camera_m is None:
        assert aim.tilt_rad == 0
        assert aim.upright_distance_m == s
    if camera_m is not None:
        assert aim.camera_height_m == camera_m
    if tilt is not None:
        assert aim.tilt_rad == tilt
        assume(aim.camera_height_m > framing.LOWEST_CAMERA_M)
    up = math.atan((aim.top_m - aim.camera_height_m) / aim.upright_distance_m) + aim.tilt_rad
    down = math.atan((aim.camera_height_m - aim.bottom_m) / aim.upright_distance_m) - aim.tilt_rad
    assert up == pytest.approx(down, abs=1e-9)
    depth = framing.axial_distance_m(
        aim.upright_distance_m, wanted.figure.eyes_m, aim.camera_height_m, aim.tilt_rad
    )
    assert depth == pytest.approx(s, rel=1e-9)
    headroom = (aim.top_m - stature) / (aim.top_m - aim.bottom_m)
    if aim.bottom_m > framing.SHOT_SIZES[0].lower_edge * stature + 1e-6:
        region = framing.region_of(size, Figure(stature))
        needed = framing.frame_height_for(region, FULL, orientation)
        if needed == region.height_m:
            assert headroom == pytest.approx(framing.HEADROOM, rel=1e-6)
    else:
        assert headroom >= framing.HEADROOM * (1 - 1e-6)


def test_tighter_sizes_need_less_frame_and_shoulders_set_a_tight_upright_one():
    heights = [
        framing.frame_height_for(framing.region_of(size, Figure(1.7)), FULL, "landscape")
        for size in framing.SHOT_SIZES
    ]
    assert heights == sorted(heights, reverse=True)
    tight = framing.region_of(framing.shot_size("head-and-shoulders"), Figure(1.7))
    upright = framing.frame_height_for(tight, FULL, "portrait")
    assert upright > tight.height_m
    assert upright / 1.5 == pytest.approx(
        0.259 * 0.85 * 1.7
    )  # the frame cuts the arms at its sides
    chest = framing.region_of(framing.shot_size("chest-up"), Figure(1.7))
    whole = framing.frame_height_for(chest, FULL, "portrait")
    assert whole / 1.5 == pytest.approx(0.259 * 1.15 * 1.7)  # as wide as the shoulders and air


def test_held_upright_the_long_side_stands():
    assert framing.frame_sides_m(FULL, "portrait") == pytest.approx((0.024, 0.036))
    assert framing.frame_sides_m(Sensor.from_mm(24, 36), "landscape") == pytest.approx(
        (0.036, 0.024)
    )


def test_pinhole_camera_and_field_covered_agree():
    camera = PinholeCamera.from_lens(FULL, 0.05, 3.0, 6000, 4000)
    width = framing.field_covered_m(FULL.width_m, lens.image_distance_m(0.05, 3.0), 3.0)
    edge = camera.back_project([[6000.0, 2000.0]], 3.0)[0, 0]
    assert edge == pytest.approx(width / 2, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: framing.shot_size("portrait"), "use full-body, knees-up"),
        (lambda: Figure(0), "stature must be above zero"),
        (lambda: framing.region_of(framing.SHOT_SIZES[0], Figure(1.7), 0.95), "headroom must be"),
        (lambda: framing.aim(9.0, 0.9, 0.4, 1.7, 1.0), "cannot frame"),
        (lambda: framing.upright_distance_to_fit_m(0, 2, 1, 1.6), "under 90 degrees"),
        (lambda: framing.upright_distance_to_fit_m(0, 1, 5, 1.4), "sees more than the frame"),
    ],
)
def test_impossible_numbers_are_named(call, says):
    with pytest.raises(ImpossibleValueError, match=says):
        call()
