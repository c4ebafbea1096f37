"""Face finding by a face mesh that the LiteRT runtime runs, on one thread."""

from __future__ import annotations

import importlib.util
from typing import Any

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.pose import networks
from assist.pose.face import MESH_POINTS, Face
from assist.pose.face_geometry import (
    DETECTOR_PX,
    LEAST_SCORE,
    MESH_PX,
    Region,
    mesh_in_picture,
    region_of_detection,
    region_of_mesh,
)
from optics.checks import FloatArray

_SIDE_PX = 256
"""Of the square in which the face is looked for."""
_LEAST_HALF_PX = 20.0
"""Below this, 10 pixels from ear to ear, a face has no features left."""


class _Network:
    """One network; `run` gives its outputs by name."""

    def __init__(self, name: str) -> None:
        from ai_edge_litert.interpreter import Interpreter  # noqa: PLC0415  (only where wanted)

        self._interpreter: Any = Interpreter(model_content=networks.load(name), num_threads=1)
        self._interpreter.allocate_tensors()
        (self._input,) = self._interpreter.get_input_details()
        self._outputs = self._interpreter.get_output_details()

    def run(self, picture: FloatArray) -> dict[str, FloatArray]:
        """Outputs for a picture (side, side, 3) of float32."""
        self._interpreter.set_tensor(self._input["index"], picture[None])
        self._interpreter.invoke()
        return {o["name"]: self._interpreter.get_tensor(o["index"])[0] for o in self._outputs}


class LiteRtFaceFinder:
    """`FaceFinder` on a detector and a mesh.

    The mesh follows the face from call to call and searches the square anew when it has lost it;
    with `stills` it searches every time.
    """

    def __init__(self, *, stills: bool = False) -> None:
        self._detector: _Network | None = _Network(networks.FACE_DETECTOR)
        self._mesh: _Network | None = _Network(networks.FACE_MESH)
        self._stills = stills
        self._region: Region | None = None

    @staticmethod
    def available() -> bool:
        """Whether the runtime is installed."""
        return importlib.util.find_spec("ai_edge_litert") is not None

    def find(self, picture: ColourImage, middle_px: FloatArray, half_px: float) -> Face | None:
        """See `FaceFinder`."""
        # A head larger than the picture is none, and its square could be larger than the memory.
        if not _LEAST_HALF_PX <= half_px <= max(picture.shape):
            return None
        scale = _SIDE_PX / (2 * half_px)
        # Shrinking by more than half would skip pixels: take the square out and average it first.
        square = _cut_out(picture, middle_px, half_px, scale)
        mesh = self._mesh_in(square)
        if mesh is None:
            return None
        points = mesh[list(MESH_POINTS)] * (_SIDE_PX / scale)
        points[:, :2] += middle_px - half_px
        return Face(points)

    def _mesh_in(self, square: ColourImage) -> FloatArray | None:
        """The mesh (468, 3) of the face in a square picture, its side as the unit."""
        if self._mesh is None or self._detector is None:
            return None
        region = None if self._stills else self._region
        self._region = None
        if region is None:
            seen = _seen(square, Region(np.array([0.5, 0.5]), 1.0, 0.0), DETECTOR_PX)
            found = self._detector.run(2 * seen - 1)
            region = region_of_detection(
                found["regressors"].astype(float), found["classificators"].astype(float).ravel()
            )
        if region is None or not region.side > 1e-3:
            return None
        found = self._mesh.run(_seen(square, region, MESH_PX))
        raw = found["output_mesh_identity"].astype(float).ravel()
        is_face = 1 / (1 + np.exp(-float(found["conv_faceflag"].ravel()[0])))
        if is_face < LEAST_SCORE or not np.isfinite(raw).all():
            return None
        mesh = mesh_in_picture(raw, region)
        self._region = region_of_mesh(mesh)
        return mesh

    def close(self) -> None:
        """Free the networks; safe to call twice."""
        self._detector = self._mesh = None


def _seen(square: ColourImage, region: Region, side_px: int) -> FloatArray:
    """What a network sees of a region: (side_px, side_px, 3) float32 from 0 to 1."""
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    # Pixel coordinates start at the outer edge; OpenCV's at the first pixel's centre.
    there = region.to_picture(corners) * square.shape[0] - 0.5
    here = corners * side_px - 0.5
    matrix = cv2.getAffineTransform(here.astype(np.float32), there.astype(np.float32))
    cut = cv2.warpAffine(
        square,
        matrix,
        (side_px, side_px),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(cut.astype(np.float32) / np.float32(255))


def _cut_out(
    picture: ColourImage, middle_px: FloatArray, half_px: float, scale: float
) -> ColourImage:
    """The square, red green blue, at the network's size; what lies outside repeats the edge."""
    left, top = middle_px - half_px
    if scale < 0.5:
        side = round(2 * half_px)
        square = cv2.warpAffine(
            picture,
            np.array([[1.0, 0.0, -left], [0.0, 1.0, -top]]),
            (side, side),
            borderMode=cv2.BORDER_REPLICATE,
        )
        square = cv2.resize(square, (_SIDE_PX, _SIDE_PX), interpolation=cv2.INTER_AREA)
    else:
        # Pixel coordinates start at the outer edge; OpenCV's at the first pixel's centre.
        shift = 0.5 * (scale - 1)
        square = cv2.warpAffine(
            picture,
            np.array([[scale, 0.0, shift - scale * left], [0.0, scale, shift - scale * top]]),
            (_SIDE_PX, _SIDE_PX),
            borderMode=cv2.BORDER_REPLICATE,
        )
    return np.asarray(cv2.cvtColor(square, cv2.COLOR_BGR2RGB), dtype=np.uint8)
