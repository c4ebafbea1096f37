"""Where a face is looked for, and what the networks' numbers mean: computation alone.

The two networks come from the face mesh of mediapipe 0.10.21, and the numbers here from its graphs
of the same release (`face_detection_short_range`, `face_landmark_front_cpu`; read there): the
detector finds a face in a picture of 128 pixels, the mesh sees a square of 192, turned so that the
eyes lie level, one and a half times as large as the face. Once found, the square follows the face.

Places are in the unit of the square picture that is handed in: 0 to 1, x right, y down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optics.checks import FloatArray

DETECTOR_PX, MESH_PX = 128, 192
LEAST_SCORE = 0.5
_STRIDES = ((8, 2), (16, 6))
"""Cells of so many pixels, with so many anchors each."""
_SAME_FACE = 0.3
"""Boxes that overlap more than this are of one face, and averaged by their scores."""
_ROUND = 1.5
_RIGHT_EYE, _LEFT_EYE = 33, 263
"""The outer corners of the eyes in the mesh."""


@dataclass(frozen=True, slots=True)
class Region:
    """A turned square: its middle (2,), its side, and by how much it is turned, radians."""

    middle: FloatArray
    side: float
    angle_rad: float

    def to_picture(self, inside: FloatArray) -> FloatArray:
        """Places (n, 2) in the square, 0 to 1, as places in the picture."""
        cosine, sine = math.cos(self.angle_rad), math.sin(self.angle_rad)
        turn = np.array([[cosine, -sine], [sine, cosine]])
        return np.asarray((inside - 0.5) @ turn.T * self.side + self.middle)


def _region(box: FloatArray, right: FloatArray, left: FloatArray) -> Region:
    """Round a box (left, top, right, bottom), level with the eyes."""
    across, down = left - right
    side = _ROUND * float(max(box[2] - box[0], box[3] - box[1]))
    return Region((box[:2] + box[2:]) / 2, side, math.atan2(float(down), float(across)))


def anchors() -> FloatArray:
    """Middles (896, 2) of the detector's anchors."""
    made = []
    for stride, count in _STRIDES:
        cells = DETECTOR_PX // stride
        places = (np.arange(cells) + 0.5) / cells
        x, y = np.meshgrid(places, places)
        made.append(np.repeat(np.stack([x.ravel(), y.ravel()], axis=1), count, axis=0))
    return np.concatenate(made)


_ANCHORS = anchors()


def region_of_detection(regressors: FloatArray, scores: FloatArray) -> Region | None:
    """Where the best face of a picture is, from the detector's raw outputs; None for none.

    regressors: (896, 16) box and six points of each anchor.   scores: (896,) before the sigmoid.
    """
    likely = 1 / (1 + np.exp(-np.clip(scores, -100, 100)))
    if likely.max() < LEAST_SCORE:
        return None
    able = np.flatnonzero(likely >= LEAST_SCORE)
    raw = regressors[able] / DETECTOR_PX
    middle = raw[:, :2] + _ANCHORS[able]
    boxes = np.concatenate([middle - raw[:, 2:4] / 2, middle + raw[:, 2:4] / 2], axis=1)
    points = raw[:, 4:8].reshape(-1, 2, 2) + _ANCHORS[able][:, None, :]
    best = int(np.argmax(likely[able]))
    same = _overlap(boxes, boxes[best]) > _SAME_FACE
    weight = likely[able][same] / likely[able][same].sum()
    box = weight @ boxes[same]
    right, left = np.einsum("n,nij->ij", weight, points[same])
    return _region(box, right, left)


def _overlap(boxes: FloatArray, one: FloatArray) -> FloatArray:
    """What each box (n, 4) and one have in common, over what they cover together."""
    size = np.maximum(np.minimum(boxes[:, 2:], one[2:]) - np.maximum(boxes[:, :2], one[:2]), 0)
    common = size.prod(axis=1)
    areas = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1) + (one[2:] - one[:2]).prod()
    return np.asarray(common / np.maximum(areas - common, 1e-12))


def region_of_mesh(points: FloatArray) -> Region:
    """Where the face of a mesh (n, 3) is."""
    flat = points[:, :2]
    box = np.concatenate([flat.min(axis=0), flat.max(axis=0)])
    return _region(box, flat[_RIGHT_EYE], flat[_LEFT_EYE])


def mesh_in_picture(raw: FloatArray, region: Region) -> FloatArray:
    """The mesh (468, 3) in the picture, from the network's raw output (1404,)."""
    inside = raw.reshape(-1, 3) / MESH_PX
    placed = region.to_picture(inside[:, :2])
    return np.column_stack([placed, inside[:, 2] * region.side])
