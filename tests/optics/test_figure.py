"""Heights of who stands and who sits, against published medians."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from optics import figure, framing, lens
from optics.figure import Figure
from optics.sensor import FORMATS

FULL = FORMATS["full-frame"]
seated = st.builds(Figure, st.floats(1.3, 2.0), st.floats(0.35, 0.65))


@pytest.mark.parametrize(
    ("stature_m", "hip_m", "within_m"),
    [(1.740, 0.920, 0.005), (1.680, 0.855, 0.04), (1.555, 0.785, 0.04)],
)
def test_hips_of_who_stands_against_published_medians(stature_m, hip_m, within_m):
    """British men, then men and women of Hong Kong: "Online Anthropometry" 2-1, 2-5 (looked up).

    The one proportion for everybody is that of the British men; the others' legs are shorter.
    """
    assert stature_m * figure.HIP_HEIGHT == pytest.approx(hip_m, abs=within_m)


@pytest.mark.parametrize(
    ("stature_m", "standing_eyes_m", "crown_m", "eyes_m", "shoulder_m"),
    [
        # British adults, 19 to 65 years, medians: Pheasant's tables as copied by the City
        # University of Hong Kong, "Online Anthropometry" 2-1, 2-2, 2-8, 2-10 (looked up); the eyes
        # of who sits, and the women's last three, in Pheasant, Bodyspace (from memory).
        (1.740, 1.630, 0.910, 0.790, 0.595),
        (1.610, 1.505, 0.850, 0.740, 0.555),
        # ANSUR II, means (from memory).
        (1.756, None, 0.918, 0.806, None),
        (1.629, None, 0.857, 0.749, None),
    ],
)
def test_who_sits_against_published_medians(
    stature_m, standing_eyes_m, crown_m, eyes_m, shoulder_m
):
    """Above the seat, within 2 cm: a proportion for everybody is no better."""
    one = Figure(stature_m, 0.5)
    assert one.crown_m - 0.5 == pytest.approx(crown_m, abs=0.012)
    assert one.eyes_m - 0.5 == pytest.approx(eyes_m, abs=0.02)
    if shoulder_m is not None:
        shoulder = one.on_trunk_m(figure.SHOULDER_HEIGHT)
        assert shoulder - 0.5 == pytest.approx(shoulder_m, abs=0.02)
    if standing_eyes_m is not None:
        assert Figure(stature_m).eyes_m == pytest.approx(standing_eyes_m, abs=0.005)


def test_eyes_in_a_wheelchair_are_where_an_accessibility_standard_has_them():
    """Eye level 1090 to 1295 mm on a seat of 485 mm: ADA standards of 1991, figure A3 (looked up).

    By its text, A4.2.4, the figure is of a large adult male; the range of eye levels is so wide
    that smaller people are within it too, and no more than that is checked.
    """
    for stature_m in (1.45, 1.61, 1.74):
        assert 1.09 < Figure(stature_m, 0.485).eyes_m < 1.295


def test_knees_of_who_sits():
    """A man of 1.74 m: hollow of the knee 440 mm above the soles, upper side 545 (looked up)."""
    on_a_chair = Figure(1.74, 0.44)
    assert 0.44 < on_a_chair.knees_m < 0.545
    low = Figure(1.74, 0.20)
    assert low.knees_m == pytest.approx(0.285 * 1.74)
    assert Figure(1.74, 0.60).knees_m - on_a_chair.knees_m == pytest.approx(0.60 - 0.44, abs=0.01)


def test_who_stands_keeps_to_the_stature():
    one = Figure(1.70)
    assert not one.is_seated
    assert one.crown_m == 1.70
    assert one.eyes_m == pytest.approx(0.936 * 1.70)
    assert one.before_eyes_m == 0


@given(seated)
def test_shot_sizes_of_who_sits_cut_where_they_say(one):
    """The whole figure under the soles, knees-up between knee and ankle, the rest on the trunk."""
    edges = [framing.lower_edge(size, one) for size in framing.SHOT_SIZES]
    full, knees, waist, chest, head = (edge.height_m for edge in edges)
    assert full < 0
    ankle = one.knees_m - (figure.KNEE_HEIGHT - figure.ANKLE_HEIGHT) * one.stature_m
    assert ankle < knees < one.knees_m
    assert one.on_trunk_m(figure.HIP_HEIGHT) < waist < chest < head
    assert head < one.on_trunk_m(figure.SHOULDER_HEIGHT) < one.crown_m
    assert [edge.before_eyes_m > 0 for edge in edges] == [True, True, False, False, False]


@given(
    st.sampled_from(framing.SHOT_SIZES), st.one_of(seated, st.builds(Figure, st.floats(1.3, 2.0))),
    st.floats(0.014, 0.2), st.sampled_from(["landscape", "portrait"]),
    st.one_of(st.none(), st.floats(0.3, 1.8)), st.one_of(st.none(), st.floats(-0.1, 0.3)),
)  # fmt: skip
def test_where_it_fits_head_and_lower_edge_are_just_in_the_picture(
    size, one, f, orientation, camera_m, tilt
):
    """Focused and aimed so, OpenCV's camera sees the crown with its headroom, and the lower edge.

    The edge is put where it is: on shins and feet that reach out towards the camera.
    """
    wanted = framing.Wanted(size, one, FULL, orientation, 0.08, camera_m, tilt)
    s = framing.focus_distance_to_fit_m(wanted, f)
    assume(np.isfinite(s))
    edge = framing.lower_edge(size, one)
    v = lens.image_distance_m(f, s)
    aim = framing.aim_for(wanted, framing.angle_of_view_rad(wanted.side_m, v), s)
    x, height = aim.upright_distance_m, aim.camera_height_m
    assume(x > 2 * edge.before_eyes_m)  # nearer, one looks down at the feet
    side_px = 4000.0
    focal_px = v / wanted.side_m * side_px
    matrix = np.array([[focal_px, 0, 2000.0], [0, focal_px, side_px / 2], [0, 0, 1]])
    points = np.array(
        [[0, height - one.crown_m, x], [0, height - edge.height_m, x - edge.before_eyes_m]]
    )
    turn = np.array([aim.tilt_rad, 0.0, 0.0])
    seen, _ = cv2.projectPoints(points, turn, np.zeros(3), matrix, None)
    crown_px, edge_px = seen[:, 0, 1]
    assert crown_px > 0
    headroom = (aim.top_m - one.crown_m) / (aim.top_m - aim.bottom_m)
    assert headroom >= 0.08 * (1 - 1e-5)
    region = framing.region_of(size, one, 0.08, x, height)
    if height > edge.height_m:
        assert edge_px <= side_px * (1 + 1e-5)
    by_height = framing.frame_height_for(region, FULL, orientation) == region.height_m
    if camera_m is None and tilt is None and by_height:
        assert edge_px == pytest.approx(side_px, rel=1e-9)
        assert crown_px == pytest.approx(0.08 * side_px, rel=1e-6)


@given(st.sampled_from(framing.SHOT_SIZES), seated, st.floats(0.014, 0.2))
def test_where_it_fits_is_the_numerical_root(size, one, f):
    wanted = framing.Wanted(size, one, FULL, "landscape")

    def spare_m(s):
        needed = framing.frame_height_for(wanted.region(size, s), FULL, "landscape")
        return FULL.height_m * (s - f) / f - needed

    found = framing.focus_distance_to_fit_m(wanted, f)
    least = framing.lower_edge(size, one).before_eyes_m
    root = brentq(spare_m, 1.001 * f, 100.0, xtol=1e-13)
    assert found == pytest.approx(max(root, least), rel=1e-9)


def test_arrays_of_focal_lengths():
    for camera_m in (None, 1.2):
        wanted = framing.Wanted(
            framing.SHOT_SIZES[0], Figure(1.7, 0.5), FULL, "portrait", camera_height_m=camera_m
        )
        f = np.array([[0.035], [0.085]])
        both = framing.focus_distance_to_fit_m(wanted, f)
        assert both.shape == (2, 1)
        assert both[1, 0] == framing.focus_distance_to_fit_m(wanted, 0.085)
