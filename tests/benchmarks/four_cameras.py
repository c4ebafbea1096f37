"""Real footage of one adult seen by four calibrated cameras, and its truth by triangulation.

The footage is `Demo_SinglePerson` in the wheel of the PyPI package pose2sim (BSD-3-Clause): four
videos of 100 frames at 60 a second of a man stepping along a platform, bent, on one leg, arms out,
2.9 to 4.1 m away. Faces are blurred on purpose, and two cameras see his back.

The depth that one camera should give comes from the other three: their landmarks, triangulated.
"""

from __future__ import annotations

import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from assist.pose import Pose
from assist.pose.facing import MIRROR
from assist.pose.landmarks import Landmark
from optics.camera import PinholeCamera

L = Landmark
CLIP = "Demo_SinglePerson"
FRAMES_PER_SECOND = 60.0
STATURE_M = 1.72
"""What the footage's configuration file gives as its example of the participant's height."""
_SIXTY_FOURTH = 64.0
_BODY = [
    L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_ELBOW, L.RIGHT_ELBOW, L.LEFT_WRIST, L.RIGHT_WRIST,
    L.LEFT_HIP, L.RIGHT_HIP, L.LEFT_KNEE, L.RIGHT_KNEE, L.LEFT_ANKLE, L.RIGHT_ANKLE,
]  # fmt: skip

_AXIS = [
    L.LEFT_EAR, L.RIGHT_EAR, L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP,
]  # fmt: skip


def fetch(into: Path, clip: str = CLIP) -> Path:
    """Folder of the footage under `into`, fetched from the package index when it is not there."""
    for place in (into, into / "Pose2Sim"):
        if (place / clip).is_dir():
            return place / clip
    into.mkdir(parents=True, exist_ok=True)
    if not list(into.glob("pose2sim-*.whl")):
        command = [sys.executable, "-m", "pip", "download", "--no-deps", "-d", str(into)]
        subprocess.run([*command, "pose2sim"], check=True)
    wheel = sorted(into.glob("pose2sim-*.whl"))[-1]
    with zipfile.ZipFile(wheel) as archive:
        for name in archive.namelist():
            if f"/{clip}/" in name:
                archive.extract(name, into)
    return into / "Pose2Sim" / clip


@dataclass(frozen=True)
class PlacedCamera:
    """A camera and where it stands: x_camera = rotation x_world + shift."""

    name: str
    camera: PinholeCamera
    rotation: np.ndarray
    shift: np.ndarray

    def see(self, points_m: np.ndarray) -> np.ndarray:
        """World points (..., 3) in the camera frame."""
        return points_m @ self.rotation.T + self.shift


def cameras(folder: Path) -> list[PlacedCamera]:
    """The four cameras from the calibration file.

    Focal lengths and centres are in 1/64 px, positions in mm, rotations stored by column, and the
    camera axes are turned by 180 degrees about x against OpenCV's.
    """
    found = []
    text = (folder / "calibration" / "Calib.qca.txt").read_text(encoding="utf-8")
    for entry in ElementTree.fromstring(text).iter("camera"):
        inner, outer = entry.find("intrinsic"), entry.find("transform")
        assert inner is not None and outer is not None
        value = {k: float(v) for k, v in inner.attrib.items()}
        place = {k: float(v) for k, v in outer.attrib.items()}
        matrix = np.array([[place[f"r{row}{col}"] for col in (1, 2, 3)] for row in (1, 2, 3)])
        rotation = np.diag([1.0, -1.0, -1.0]) @ matrix
        position = np.array([place["x"], place["y"], place["z"]]) / 1000
        camera = PinholeCamera(
            1088,
            1920,
            value["focalLengthU"] / _SIXTY_FOURTH,
            value["focalLengthV"] / _SIXTY_FOURTH,
            value["centerPointU"] / _SIXTY_FOURTH + 0.5,
            value["centerPointV"] / _SIXTY_FOURTH + 0.5,
            (
                value["radialDistortion1"],
                value["radialDistortion2"],
                value["tangentalDistortion1"],
                value["tangentalDistortion2"],
                value["radialDistortion3"],
            ),
        )
        found.append(PlacedCamera(entry.attrib["serial"], camera, rotation, -rotation @ position))
    return found


def triangulate(views: list[PlacedCamera], poses: list[Pose]) -> tuple[np.ndarray, float]:
    """World points (33, 3) of the landmarks and the body's mean reprojection error in pixels.

    Linear: each view gives x (r3 X + t3) = r1 X + t1 and the same for y, weighted by the root of
    the visibility. A detector now and then exchanges left and right of a whole body; of the
    labellings with at most one camera exchanged the most consistent is taken, and the plain one
    where they are within 3 px.
    """
    best: tuple[np.ndarray, float] | None = None
    for exchanged in (None, *range(len(views))):
        order = [MIRROR if k == exchanged else np.arange(33) for k in range(len(views))]
        rows = np.zeros((33, 2 * len(views), 3))
        target = np.zeros((33, 2 * len(views)))
        for k, (view, pose) in enumerate(zip(views, poses, strict=True)):
            ray = view.camera.normalised(pose.image_px[order[k]])
            weight = np.sqrt(np.maximum(pose.visibility[order[k]], 0.05))
            r, t = view.rotation, view.shift
            for axis in (0, 1):
                rows[:, 2 * k + axis] = weight[:, None] * (ray[:, axis, None] * r[2] - r[axis])
                target[:, 2 * k + axis] = weight * (t[axis] - ray[:, axis] * t[2])
        normal = np.einsum("jia,jib->jab", rows, rows)
        points = np.linalg.solve(normal, np.einsum("jia,ji->ja", rows, target)[..., None])[..., 0]
        errors = [
            np.linalg.norm(v.camera.project(v.see(points)) - p.image_px[o], axis=1)[_BODY]
            for v, p, o in zip(views, poses, order, strict=True)
        ]
        error = float(np.minimum(errors, 100).mean())
        if best is None or error < best[1] - 3:
            best = points, error
    assert best is not None
    return best


@dataclass(frozen=True)
class Truth:
    """Depths seen by one camera according to the others; (frames,) each, nan where unknown."""

    eyes_m: np.ndarray
    hips_m: np.ndarray
    axis_m: np.ndarray


def truth_for(judged: int, views: list[PlacedCamera], poses: list[list[Pose | None]]) -> Truth:
    """Truth for camera number `judged` from the other cameras."""
    others = [k for k in range(len(views)) if k != judged]
    eyes, hips, axis = [], [], []
    for frame in range(len(poses[judged])):
        seen = [poses[k][frame] for k in others]
        if any(p is None for p in seen):
            eyes.append(np.nan)
            hips.append(np.nan)
            axis.append(np.nan)
            continue
        points, _ = triangulate([views[k] for k in others], [p for p in seen if p is not None])
        z = views[judged].see(points)[:, 2]
        eyes.append((z[L.LEFT_EYE] + z[L.RIGHT_EYE]) / 2)
        hips.append((z[L.LEFT_HIP] + z[L.RIGHT_HIP]) / 2)
        axis.append(z[_AXIS].mean())
    return Truth(np.array(eyes), np.array(hips), np.array(axis))
