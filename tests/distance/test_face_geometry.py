"""Where a face is looked for: exact numbers without a network, then the networks on a photograph.

The layout of the anchors is published with the detector's graph (mediapipe 0.10.21,
`face_detection_short_range`): strides 8, 16, 16, 16 on 128 pixels, two anchors a cell and layer,
896 in all. Where the installed mediapipe still has its own face mesh, ours is held against it.
"""

import math

import cv2
import numpy as np
import pytest
from skimage import data as pictures

from assist.pose.face import MESH_POINTS
from assist.pose.face_geometry import (
    DETECTOR_PX,
    LEAST_SCORE,
    MESH_PX,
    Region,
    anchors,
    mesh_in_picture,
    region_of_detection,
    region_of_mesh,
)
from assist.pose.litert_face import LiteRtFaceFinder, _cut_out

HEAD_PX, HALF_PX = np.array([225.0, 110.0]), 125.0
"""Where the portrait photograph has its head."""


def answer(*faces):
    """Raw outputs in which anchor k sees a box (x, y, side), eyes at angle, score."""
    regressors, scores = np.zeros((896, 16)), np.full(896, -20.0)
    for k, middle, side, angle, score in faces:
        across = side * 0.25 * np.array([math.cos(angle), math.sin(angle)])
        shift = np.asarray(middle) - anchors()[k]
        regressors[k, :2] = shift * DETECTOR_PX
        regressors[k, 2:4] = side * DETECTOR_PX
        regressors[k, 4:6] = (shift - across) * DETECTOR_PX
        regressors[k, 6:8] = (shift + across) * DETECTOR_PX
        scores[k] = score
    return regressors, scores


def test_anchors_lie_where_they_are_published():
    middles = anchors()
    assert middles.shape == (896, 2)
    assert middles[:2] == pytest.approx(np.full((2, 2), 0.5 / 16))  # two in the first cell
    assert middles[2] == pytest.approx((1.5 / 16, 0.5 / 16))  # along a row first
    assert middles[512:518] == pytest.approx(np.full((6, 2), 0.5 / 8))
    assert middles[-1] == pytest.approx((7.5 / 8, 7.5 / 8))


@pytest.mark.parametrize("angle_deg", [0, 20, -75])
def test_a_face_alone_is_found_where_it_is(angle_deg):
    angle = math.radians(angle_deg)
    region = region_of_detection(*answer((300, (0.4, 0.6), 0.3, angle, 4.0)))
    assert region.middle == pytest.approx((0.4, 0.6))
    assert region.side == pytest.approx(1.5 * 0.3)
    assert region.angle_rad == pytest.approx(angle)


def test_boxes_of_one_face_are_averaged_by_score_and_others_left():
    near, same = (100, (0.40, 0.5), 0.3, 0.0, 3.0), (101, (0.42, 0.5), 0.3, 0.0, 1.0)
    other = (700, (0.85, 0.5), 0.2, 0.5, 2.0)
    sigmoid = 1 / (1 + np.exp(-np.array([3.0, 1.0])))
    region = region_of_detection(*answer(near, same, other))
    assert region.middle[0] == pytest.approx(sigmoid @ (0.40, 0.42) / sigmoid.sum())
    assert region.side == pytest.approx(0.45)
    assert region.angle_rad == pytest.approx(0.0, abs=1e-9)


def test_nothing_likely_is_no_face():
    below = math.log(LEAST_SCORE / (1 - LEAST_SCORE)) - 0.01
    assert region_of_detection(*answer((0, (0.5, 0.5), 0.3, 0.0, below))) is None


def test_scores_beyond_any_bound_are_numbers_still():
    region = region_of_detection(*answer((0, (0.5, 0.5), 0.3, 0.0, 1e30)))
    assert region.middle == pytest.approx((0.5, 0.5))


def test_a_turned_square_has_its_corners_round_its_middle():
    square = Region(np.array([0.5, 0.4]), 0.2, math.pi / 2)
    assert square.to_picture(np.array([[0.5, 0.5]]))[0] == pytest.approx((0.5, 0.4))
    # Its upper left corner has gone a quarter turn clockwise, as y points down.
    assert square.to_picture(np.array([[0.0, 0.0]]))[0] == pytest.approx((0.6, 0.3))


def test_depth_is_in_the_unit_of_the_breadth():
    raw = np.zeros((468, 3))
    raw[0], raw[1] = (96, 96, 48), (192, 96, 0)
    mesh = mesh_in_picture(raw.ravel(), Region(np.array([0.3, 0.3]), 0.4, 0.7))
    assert mesh[0] == pytest.approx((0.3, 0.3, 48 / MESH_PX * 0.4))
    assert np.hypot(*(mesh[1] - mesh[0])[:2]) == pytest.approx(0.2)


def test_the_square_follows_a_mesh_that_moves_and_grows():
    mesh = np.random.default_rng(5).uniform(0.3, 0.6, (468, 3))
    here, there = region_of_mesh(mesh), region_of_mesh(1.3 * mesh + (0.05, -0.1, 0.4))
    assert there.middle == pytest.approx(1.3 * here.middle + (0.05, -0.1))
    assert there.side == pytest.approx(1.3 * here.side)
    assert there.angle_rad == pytest.approx(here.angle_rad)


def portrait():
    return cv2.cvtColor(pictures.astronaut(), cv2.COLOR_RGB2BGR)


def breadth(points):
    """Root mean square distance of the points from their middle, in the picture."""
    flat = points[:, :2]
    return math.sqrt(((flat - flat.mean(axis=0)) ** 2).sum(axis=1).mean())


@pytest.mark.parametrize("angle_deg", [-30, 15, 35])
def test_a_picture_that_is_turned_gives_a_mesh_that_is_turned(angle_deg):
    finder = LiteRtFaceFinder(stills=True)
    upright = finder.find(portrait(), HEAD_PX, HALF_PX).points_px
    matrix = cv2.getRotationMatrix2D(tuple(map(float, HEAD_PX)), angle_deg, 1.0)
    turned = cv2.warpAffine(portrait(), matrix, (512, 512), borderMode=cv2.BORDER_REPLICATE)
    found = finder.find(turned, HEAD_PX, HALF_PX).points_px
    finder.close()
    expected = upright[:, :2] @ matrix[:, :2].T + matrix[:, 2]
    assert breadth(found) == pytest.approx(breadth(upright), rel=0.03)
    assert np.hypot(*(found[:, :2] - expected).T).mean() < 0.05 * breadth(upright)


def test_a_face_that_is_gone_is_not_followed_and_found_again():
    finder = LiteRtFaceFinder()
    first = finder.find(portrait(), HEAD_PX, HALF_PX).points_px
    assert finder.find(np.full_like(portrait(), 90), HEAD_PX, HALF_PX) is None
    again = finder.find(portrait(), HEAD_PX, HALF_PX).points_px
    finder.close()
    assert again == pytest.approx(first)  # found anew, as at first


@pytest.mark.parametrize("stills", [True, False])
def test_sizes_are_those_of_the_librarys_own_mesh(stills):
    """Searching each picture, and following a face that walks away.

    The library draws eyes and lips finer and takes its squares from the first pixel's middle, so
    that single faces differ by up to one per cent.
    """
    mediapipe = pytest.importorskip("mediapipe")
    if not hasattr(mediapipe, "solutions"):
        pytest.skip("this release of mediapipe has no face mesh of its own")
    theirs = mediapipe.solutions.face_mesh.FaceMesh(
        static_image_mode=stills, max_num_faces=1, refine_landmarks=True
    )
    ours = LiteRtFaceFinder(stills=stills)
    ratios = []
    for scale in np.linspace(1.0, 0.5, 10):
        picture = cv2.resize(portrait(), None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        middle, half = HEAD_PX * scale, HALF_PX * scale
        mine = ours.find(picture, middle, half).points_px
        square = _cut_out(picture, middle, half, 256 / (2 * half))
        marks = theirs.process(square).multi_face_landmarks[0].landmark
        other = 2 * half * np.array([(marks[k].x, marks[k].y) for k in MESH_POINTS])
        ratios.append(breadth(mine) / breadth(other))
    theirs.close()
    ours.close()
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.006)
    assert ratios == pytest.approx(np.ones(10), abs=0.012)
