"""The face cue on exact faces (no network), and the network on a real photograph."""

import math
import threading
import time
from dataclasses import replace

import cv2
import numpy as np
import pytest
from skimage import data as pictures

from assist.distance import BodyDistance, CueAbsent
from assist.distance.body_error import BodyError
from assist.distance.cues.face import FaceCue
from assist.distance.engine import DistanceEngine
from assist.distance.face_size import ADULT_FACE_M, PUPIL_AHEAD_M, look_at
from assist.distance.observation import observe
from assist.pose.face import COUNT, EYE_CORNERS, Face
from assist.pose.facing import exchanged
from assist.pose.litert_face import LiteRtFaceFinder
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.setup.body import Person
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose

CAMERA = PinholeCamera(1280, 720, 1000.0, 1000.0, 640.0, 360.0)
RIGHT_EAR, LEFT_EAR = 17, 18
FOREHEAD, NOSE = 11, 10


def face_m():
    """(COUNT, 3) points of a face that looks along -z, of the adult size, eyes' corners at z = 0.

    Invented: an ellipsoid's front, 15 cm wide; the shape does not matter to the cue.
    """
    random = np.random.default_rng(4)
    across, down = random.uniform(-0.07, 0.07, COUNT), random.uniform(-0.06, 0.08, COUNT)
    across[EYE_CORNERS], down[EYE_CORNERS] = [-0.045, -0.016, 0.016, 0.045], -0.01
    across[[RIGHT_EAR, LEFT_EAR]], down[[RIGHT_EAR, LEFT_EAR]] = [-0.07, 0.07], 0.0
    across[[FOREHEAD, NOSE]], down[[FOREHEAD, NOSE]] = 0.0, [-0.065, 0.035]
    points = np.column_stack([across, down, 12.0 * across**2 + 4.0 * down**2])
    points *= ADULT_FACE_M / math.sqrt(((points - points.mean(axis=0)) ** 2).sum(axis=1).mean())
    points[:, 2] -= points[EYE_CORNERS, 2].mean()
    return points


def seen_face(place_m, yaw_deg=0.0, pitch_deg=0.0, size=1.0):
    """What an exact mesh would report: its z runs along the line of sight, in the face's pixels."""
    y, p = math.radians(yaw_deg), math.radians(pitch_deg)
    turn = np.array([[math.cos(y), 0, math.sin(y)], [0, 1, 0], [-math.sin(y), 0, math.cos(y)]])
    nod = np.array([[1, 0, 0], [0, math.cos(p), -math.sin(p)], [0, math.sin(p), math.cos(p)]])
    points = (size * face_m()) @ nod.T @ turn.T + np.asarray(place_m)
    image = CAMERA.project(points)
    middle = points.mean(axis=0)
    depth = (points - middle) @ (middle / np.linalg.norm(middle))
    return Face(np.column_stack([image, depth * CAMERA.fx_px / points[:, 2].mean()]))


def eyes_m(face, size=1.0):
    return look_at(face, CAMERA).eyes_per_face * ADULT_FACE_M * size


@pytest.mark.parametrize("z", [0.6, 1.0, 4.0, 8.0])
@pytest.mark.parametrize("yaw_deg", [0.0, 30.0, -60.0])
def test_exact_face_gives_the_exact_depth(z, yaw_deg):
    """The corners of the eyes are at z; the pupils are ahead of them."""
    assert eyes_m(seen_face((0.0, 0.0, z), yaw_deg)) == pytest.approx(z - PUPIL_AHEAD_M, rel=0.004)


@pytest.mark.parametrize("place", [(1.2, 0.0, 2.5), (-0.4, -0.7, 2.5), (1.0, 0.6, 2.0)])
def test_face_towards_the_corner_of_the_picture(place):
    """Depth is along the axis, not along the line of sight; stretching is put right."""
    assert eyes_m(seen_face(place)) == pytest.approx(place[2] - PUPIL_AHEAD_M, rel=0.01)


def test_nodding_and_turning_are_told_apart():
    assert look_at(seen_face((0, 0, 2), pitch_deg=25.0), CAMERA).turned_rad < math.radians(6)
    turned = look_at(seen_face((0, 0, 2), yaw_deg=50.0), CAMERA).turned_rad
    assert turned == pytest.approx(math.radians(50), abs=math.radians(8))


def with_face(z, size=1.0, **more):
    pose = standing_pose(CAMERA, z, **more)
    head = CAMERA.normalised(pose.image_px[:11]).mean(axis=0)
    return replace(pose, face=seen_face((*(head * z), z), size=size))


def test_cue_says_why_it_does_not_apply():
    cue, shape = FaceCue(), Person(1.75).shape
    assert "no face" in cue.read(observe(standing_pose(CAMERA, 3.0), CAMERA, shape)).why
    back = replace(standing_pose(CAMERA, 3.0, turn_deg=180.0), face=seen_face((0, -0.6, 3)))
    assert "back of the head" in cue.read(observe(back, CAMERA, shape)).why
    side = replace(standing_pose(CAMERA, 3.0), face=seen_face((0, -0.6, 3), yaw_deg=80.0))
    assert "turned" in cue.read(observe(side, CAMERA, shape)).why
    heap = replace(standing_pose(CAMERA, 3.0), face=Face(np.full((COUNT, 3), 300.0)))
    assert isinstance(cue.read(observe(heap, CAMERA, shape)), CueAbsent)


def test_smaller_and_turned_faces_are_told_less_surely():
    cue, shape = FaceCue(), Person(1.75).shape
    near, far = (cue.read(observe(with_face(z), CAMERA, shape)) for z in (2.0, 8.0))
    assert far.own_sd_m / far.eyes_m > near.own_sd_m / near.eyes_m


def test_known_face_overrules_a_misjudged_body():
    """A body that looks 12 % too far, as a leaning or cropped one does; a face that is known."""
    person = Person(1.75)
    pose = with_face(3.0)
    wrong = replace(pose, world_m=pose.world_m, image_px=shrunk(pose.image_px, 0.88))
    engine = DistanceEngine(CAMERA, person)
    object.__setattr__(engine._shape, "face_sd", 0.01)
    engine.forget()
    alone = DistanceEngine(CAMERA, person).measure(replace(wrong, face=None), 0.0)
    both = engine.measure(wrong, 0.0)
    assert isinstance(both, BodyDistance)
    assert alone.eyes_m == pytest.approx(3.0 / 0.88, rel=0.08)
    expected = person.shape.face * (3.0 - PUPIL_AHEAD_M)
    assert both.eyes_m == pytest.approx(expected, rel=0.04)
    # ... and carries on for a moment without the face, but not for long.
    soon = engine.measure(replace(wrong, face=None), 1 / 30)
    late = engine.measure(replace(wrong, face=None), 10.0)
    assert soon.eyes_m == pytest.approx(both.eyes_m, rel=0.02)
    assert late.eyes_m == pytest.approx(alone.eyes_m, rel=0.02)
    assert both.eyes_sd_m > alone.eyes_sd_m, "they contradict each other: one of them is wrong"


def test_a_slip_of_the_detector_is_no_surer_for_a_face_seen_before_it():
    pose = with_face(3.0)
    slipped = exchanged(pose)
    assert slipped.face is pose.face
    engine = DistanceEngine(CAMERA, Person(1.75))
    before = [engine.measure(pose, i / 30) for i in range(10)][-1]
    alone = engine.measure(replace(slipped, face=None), 10 / 30)
    seen = engine.measure(slipped, 11 / 30)
    after = engine.measure(replace(slipped, face=None), 12 / 30)
    assert alone.eyes_sd_m > 2 * before.eyes_sd_m
    assert seen.eyes_sd_m < alone.eyes_sd_m
    assert after.eyes_sd_m == pytest.approx(alone.eyes_sd_m, rel=0.02)
    # What was compared before the slip goes on counting once it is over.
    over = engine.measure(replace(pose, face=None), 13 / 30)
    assert over.eyes_sd_m < 1.2 * before.eyes_sd_m


def test_agreeing_face_makes_surer():
    pose = with_face(3.0)
    alone = DistanceEngine(CAMERA, Person(1.75)).measure(replace(pose, face=None), 0.0)
    both = DistanceEngine(CAMERA, Person(1.75)).measure(pose, 0.0)
    assert both.eyes_m == pytest.approx(alone.eyes_m, rel=0.05)
    assert both.eyes_sd_m < alone.eyes_sd_m


def shrunk(image_px, factor):
    middle = image_px.mean(axis=0)
    return middle + factor * (image_px - middle)


def test_body_error_fades_as_an_ornstein_uhlenbeck_process():
    """Mean k x, variance k^2 s^2 + (1 - k^2) S^2 with k = exp(-t): the textbook's, from memory."""
    error = BodyError()
    assert error.at(0.0, 0.05) is None
    error.tell(0.0, 4.0, 4.4, 0.01)
    assert error.at(0.0, 0.05) == pytest.approx((1.1, 0.01))
    factor, sd = error.at(0.7, 0.05)
    kept = math.exp(-0.7)
    assert math.log(factor) == pytest.approx(kept * math.log(1.1))
    assert sd == pytest.approx(math.sqrt((kept * 0.01) ** 2 + (1 - kept**2) * 0.05**2))
    assert error.at(20.0, 0.05) is None
    error.forget()
    assert error.at(0.0, 0.05) is None


@pytest.mark.parametrize("across_px", [90, 45])
def test_network_finds_a_real_face_at_any_size(across_px):
    """scikit-image's portrait photograph, 512 pixels, scaled down and up."""
    picture = cv2.cvtColor(pictures.astronaut(), cv2.COLOR_RGB2BGR)
    factor = across_px / 95  # the face is about 95 pixels wide
    small = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    finder = LiteRtFaceFinder(stills=True)
    found = finder.find(small, np.array([225.0, 110.0]) * factor, 125 * factor)
    nowhere = finder.find(small, np.array([420.0, 420.0]) * factor, 80 * factor)
    finder.close()
    finder.close()
    assert nowhere is None
    eyes = found.points_px[EYE_CORNERS, :2].mean(axis=0) / factor
    assert eyes == pytest.approx((216, 105), abs=12)
    width = np.hypot(*(found.points_px[RIGHT_EAR, :2] - found.points_px[LEFT_EAR, :2]))
    assert width == pytest.approx(across_px, rel=0.15)


def test_square_beyond_the_edge_or_too_small():
    picture = np.zeros((100, 100, 3), np.uint8)
    finder = LiteRtFaceFinder(stills=True)
    assert finder.find(picture, np.array([-30.0, 50.0]), 60.0) is None
    assert finder.find(picture, np.array([50.0, 50.0]), 5.0) is None
    finder.close()


@pytest.mark.parametrize("half_px", [1e7, np.inf, np.nan])
def test_square_of_a_body_that_cannot_be_costs_no_memory(half_px):
    finder = LiteRtFaceFinder(stills=True)
    assert finder.find(np.zeros((100, 100, 3), np.uint8), np.zeros(2), half_px) is None
    finder.close()


@pytest.mark.parametrize("stills", [False, True])
@pytest.mark.parametrize("error", [RuntimeError, cv2.error])
def test_a_face_network_that_fails_leaves_the_pose(stills, error):
    class Failing:
        asked = 0

        def find(self, *_):
            self.asked += 1
            raise error("the graph has errors")

        def close(self):
            pass

    picture = cv2.cvtColor(pictures.astronaut(), cv2.COLOR_RGB2BGR)
    with MediaPipePoseDetector(stills=stills) as detector:
        detector._faces.close()
        detector._faces = failing = Failing()
        found = [detector.detect(picture, time_s) for time_s in (0.0, 0.1, 0.2)]
    assert failing.asked >= 2
    assert [[pose.face for pose in poses] for poses in found] == [[None]] * 3


def test_closing_waits_for_the_face_that_is_being_looked_for():
    began, closed = threading.Event(), []

    class Slow:
        def find(self, *_):
            began.set()
            time.sleep(0.3)
            assert not closed

        def close(self):
            closed.append(True)

    picture = cv2.cvtColor(pictures.astronaut(), cv2.COLOR_RGB2BGR)
    detector = MediaPipePoseDetector()
    detector._faces.close()
    detector._faces = Slow()
    assert detector.detect(picture, 0.0)
    beside = detector._look_beside(picture, 0.1)
    assert began.wait(5.0)
    detector.close()
    assert beside.result() is None
    assert closed == [True]


def test_wrong_number_of_points():
    with pytest.raises(ValueError, match="points_px"):
        Face(np.zeros((3, 3)))
