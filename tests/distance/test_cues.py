"""Each cue by itself on exact synthetic bodies, with what it says when it does not apply."""

from dataclasses import replace

import numpy as np
import pytest

from assist.distance import CueAbsent, CueReading
from assist.distance.cues import rigid_fit
from assist.distance.cues.head import Head
from assist.distance.cues.joint_fit import JointFitter
from assist.distance.observation import observe
from assist.pose.landmarks import Landmark
from assist.setup.body import ADULT_STATURE_M, Person
from optics.camera import PinholeCamera
from tests.assist.synthetic import body_m, real_body_m, standing_pose

L = Landmark
CAMERA = PinholeCamera.from_focal_length_px(1000.0, 1280, 960)
SHAPE = Person(ADULT_STATURE_M, measured=True).shape
EYES = [L.LEFT_EYE, L.RIGHT_EYE]


def seen(hips_z_m=4.0, *, turn_deg=0.0, posture=None, camera=CAMERA, **how):
    detector_m = body_m() if posture is None else posture
    pose = standing_pose(camera, hips_z_m, turn_deg=turn_deg, detector_m=detector_m, **how)
    truth = hips_z_m + real_body_m(turn_deg=turn_deg, detector_m=detector_m)[EYES, 2].mean()
    return observe(pose, camera, SHAPE), truth


def without(observation, landmarks):
    visibility = observation.pose.visibility.copy()
    visibility[landmarks] = 0.0
    pose = replace(observation.pose, visibility=visibility)
    return observe(pose, observation.camera, observation.shape)


@pytest.mark.parametrize("z", [2.5, 4.0, 8.0])
@pytest.mark.parametrize("turn_deg", [0.0, 60.0, 180.0])
def test_rigid_fit_is_exact(z, turn_deg):
    observation, truth = seen(z, turn_deg=turn_deg)
    assert rigid_fit.fit(observation).landmarks_m[EYES, 2].mean() == pytest.approx(truth, rel=1e-6)


@pytest.mark.parametrize("z", [2.5, 4.0, 8.0])
def test_joint_fit_is_exact_from_a_poor_start(z):
    observation, truth = seen(z, turn_deg=20.0)
    start = rigid_fit.fit(observation).landmarks_m * 1.15
    assert JointFitter().fit(observation, start).eyes_m == pytest.approx(truth, rel=5e-3)


def test_joint_fit_jacobian_leads_to_the_minimum_that_scipy_finds():
    """The same energy minimised by SciPy's least squares, with numerical derivatives."""
    from scipy.optimize import least_squares

    from assist.distance.cues import joint_fit as jf

    observation, _ = seen(3.0, turn_deg=15.0)
    random = np.random.default_rng(5)
    pose = observation.pose
    noisy = replace(
        pose,
        image_px=pose.image_px + random.normal(0, 2, (33, 2)),
        world_m=pose.world_m + random.normal(0, 0.03, (33, 3)),
    )
    observation = observe(noisy, CAMERA, SHAPE)
    options = jf.FitOptions(huber=1e9, most_steps=30, settled_m=1e-9)
    fitter = jf.JointFitter(options)
    start = rigid_fit.fit(observation).landmarks_m
    ours = fitter.fit(observation, start)
    prior = fitter._prior_for(observation)
    values, vectors = np.linalg.eigh(prior)
    root = vectors * np.sqrt(np.maximum(values, 0))
    distance = float(jf.HIPS @ start[jf.JOINTS, 2])
    sd = np.hypot(options.pixel_m * fitter._grades / distance, options.floor_px / CAMERA.fx_px)

    def residuals(x):
        joints = x.reshape(-1, 3)
        pixels = (joints[:, :2] / joints[:, 2:] - observation.rays[jf.JOINTS]) / sd[:, None]
        pixels *= np.sqrt(np.where(observation.usable, noisy.visibility, 0)[jf.JOINTS])[:, None]
        lengths = np.linalg.norm(jf.LENGTH_ROWS @ joints, axis=1) - fitter._lengths
        posture = root.T @ (joints - observation.body_m[jf.JOINTS]).ravel()
        return np.concatenate([pixels.ravel(), lengths * fitter._length_weight, posture])

    theirs = least_squares(residuals, start[jf.JOINTS].ravel(), xtol=1e-12, ftol=1e-12).x
    assert ours.joints_m == pytest.approx(theirs.reshape(-1, 3), abs=1e-4)


@pytest.mark.parametrize("turn_deg", [0.0, 25.0])
def test_head_is_exact(turn_deg):
    observation, truth = seen(1.2, turn_deg=turn_deg, hips_y_m=0.75)
    assert Head().read(observation).eyes_m == pytest.approx(truth, rel=1e-3)


def test_head_says_why_not():
    assert "turned" in Head().read(seen(turn_deg=180.0)[0]).why
    assert "side" in Head().read(seen(turn_deg=60.0)[0]).why
    assert "small" in Head().read(seen(30.0)[0]).why
    assert "not in view" in Head().read(without(seen()[0], [L.LEFT_EAR])).why


def test_the_head_reads_or_says_why():
    cue = Head()
    assert isinstance(cue.read(seen(2.3, hips_y_m=0.05)[0]), CueReading)
    absent = cue.read(without(seen()[0], list(range(33))))
    assert isinstance(absent, CueAbsent) and absent.why and absent.cue == cue.name
