"""A feed's geometry from pictures of a printed board: intrinsics, distortion, and their quality.

The estimation is OpenCV's calibrateCamera (Zhang's method); what is added is refusing sets that
cannot fix the answer, and a board to print at true size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import _, current
from optics.camera import PinholeCamera
from optics.checks import FloatArray

Kind = Literal["charuco", "chessboard"]
LEAST_VIEWS = 6
_LEAST_CORNERS = 8
_LEAST_TILT_RAD = math.radians(12)
_LEAST_SPREAD = 0.45
_WORST_ERROR_PX = 1.5
_MARKERS = cv2.aruco.DICT_5X5_100
_MILLIMETRES_PER_INCH = 25.4
_LARGEST_MM2 = 841.0 * 1189.0


@dataclass(frozen=True)
class Board:
    """A board of squares; `columns` and `rows` count squares, not inner corners."""

    kind: Kind = "charuco"
    columns: int = 8
    rows: int = 6
    square_mm: float = 25.0

    def __post_init__(self) -> None:
        if min(self.columns, self.rows) < 4:
            raise UserError(
                _(
                    "a board needs at least 4 x 4 squares, not {columns}x{rows}",
                    columns=self.columns,
                    rows=self.rows,
                )
            )
        if not 1 <= self.square_mm <= 1000:
            raise UserError(
                _(
                    "squares of {square} mm cannot be: use 1 to 1000 mm",
                    square=current().decimal(f"{self.square_mm:g}"),
                )
            )
        if (self.columns + 2) * (self.rows + 2) * self.square_mm**2 > _LARGEST_MM2:
            raise UserError(
                _(
                    "a board of {columns}x{rows} squares of {square} mm is larger than the "
                    "largest paper (A0)",
                    columns=self.columns,
                    rows=self.rows,
                    square=current().decimal(f"{self.square_mm:g}"),
                )
            )
        if self.kind == "charuco" and self.columns * self.rows // 2 > 100:
            raise UserError(_("a ChArUco board has at most 200 squares; use fewer, larger ones"))

    @property
    def charuco(self) -> cv2.aruco.CharucoBoard:
        """OpenCV's description of the ChArUco board."""
        square_m = self.square_mm / 1000
        return cv2.aruco.CharucoBoard(
            (self.columns, self.rows),
            square_m,
            square_m * 0.7,
            cv2.aruco.getPredefinedDictionary(_MARKERS),
        )

    @property
    def corners_m(self) -> FloatArray:
        """(n, 3) inner corners on the board's plane, metres."""
        across, down = np.meshgrid(np.arange(1, self.columns), np.arange(1, self.rows))
        flat = np.stack([across.ravel(), down.ravel(), np.zeros(across.size)], axis=1)
        return np.asarray(flat * (self.square_mm / 1000))

    # -- printing -----------------------------------------------------------------------------

    def picture(self, dots_per_inch: int = 300) -> ColourImage:
        """The board on white with a scale bar of 100 mm below, at that resolution."""
        per_mm = dots_per_inch / _MILLIMETRES_PER_INCH
        square = round(self.square_mm * per_mm)
        margin, below = max(square // 2, round(8 * per_mm)), round(22 * per_mm)
        width, height = self.columns * square, self.rows * square
        # The bar is drawn to the same rounding as the squares, so that one ruler checks both.
        bar = round(100 * square / self.square_mm)
        page = np.full(
            (height + 2 * margin + below, max(width, bar) + 2 * margin, 3), 255, np.uint8
        )
        if self.kind == "charuco":
            drawn = self.charuco.generateImage((width, height), marginSize=0)
        else:
            dark = (np.add.outer(np.arange(self.rows), np.arange(self.columns)) % 2) == 0
            small = np.where(dark, 0, 255).astype(np.uint8)
            drawn = np.kron(small, np.ones((square, square), np.uint8))
        page[margin : margin + height, margin : margin + width] = drawn[..., None]
        y = margin + height + round(8 * per_mm)
        tick, thick = round(3 * per_mm), max(1, round(0.4 * per_mm))
        cv2.line(page, (margin, y), (margin + bar, y), (0, 0, 0), thick)
        for k in range(0, 101, 10):
            x = margin + round(bar * k / 100)
            cv2.line(page, (x, y), (x, y + (2 * tick if k % 50 == 0 else tick)), (0, 0, 0), thick)
        # L10N: printed in a face of plain letters only: no accents.
        text = _(
            "100 mm. Print at 100 %, then measure this bar. Squares {size} mm",
            size=current().decimal(f"{self.square_mm:g}"),
        )
        size = 0.055 * per_mm
        place = (margin, y + round(11 * per_mm))
        cv2.putText(page, text, place, cv2.FONT_HERSHEY_SIMPLEX, size, (0, 0, 0), thick)
        return page

    # -- finding ------------------------------------------------------------------------------

    def find(self, picture: ColourImage) -> tuple[FloatArray, FloatArray] | None:
        """(corners on the board (n, 3) metres, in the picture (n, 2) OpenCV pixels), or None."""
        grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY) if picture.ndim == 3 else picture
        if self.kind == "charuco":
            detector = cv2.aruco.CharucoDetector(self.charuco)
            corners, ids, _markers, _marker_ids = detector.detectBoard(grey)
            if ids is None or len(ids) < _LEAST_CORNERS:
                return None
            return self.corners_m[ids.ravel()], np.asarray(corners, np.float64).reshape(-1, 2)
        inner = (self.columns - 1, self.rows - 1)
        found, spots = cv2.findChessboardCornersSB(grey, inner, flags=cv2.CALIB_CB_NORMALIZE_IMAGE)
        if not found:
            return None
        return self.corners_m, np.asarray(spots, np.float64).reshape(-1, 2)


@dataclass(frozen=True, slots=True)
class BoardCalibration:
    """The feed's camera and how well the views fix it.

    error_px: root mean square distance between corners and their reprojection.
    focal_sd: standard deviation of the focal length over the focal length.
    """

    camera: PinholeCamera
    error_px: float
    focal_sd: float
    used: int
    left_out: int


def calibrate(
    board: Board, pictures: Sequence[ColourImage], looked_at: int | None = None
) -> BoardCalibration:
    """Intrinsics and distortion from pictures of the board.

    looked_at: how many pictures these were chosen from, where they were chosen.

    Raises UserError when the pictures differ in size, show the board too seldom, show it only
    square-on (focal length and distance cannot then be told apart) or only in the middle (the
    distortion cannot be seen), or do not agree with a pinhole camera with five coefficients.
    """
    sizes = {p.shape[:2] for p in pictures}
    if len(sizes) > 1:
        raise UserError(_("the pictures of the board differ in size: take all with one feed"))
    views = [found for p in pictures if (found := board.find(p)) is not None]
    if len(views) < LEAST_VIEWS:
        raise UserError(
            _(
                "the board was found in {n} of {of} pictures and {least} are needed: "
                "fill a quarter of the picture with it, flat and well lit",
                n=len(views),
                of=looked_at or len(pictures),
                least=LEAST_VIEWS,
            )
        )
    height, width = sizes.pop()
    _refuse_clustered(views, width, height)
    error, matrix, distortion, turns, _places, deviations, _outer, _errors = (
        cv2.calibrateCameraExtended(
            [np.asarray(b, np.float32) for b, _p in views],
            [np.asarray(p, np.float32) for _b, p in views],
            (width, height),
            np.eye(3),
            np.zeros(5),
        )
    )
    normals = np.array([cv2.Rodrigues(t)[0][:, 2] for t in turns])
    if _largest_angle(normals) < _LEAST_TILT_RAD:
        raise UserError(
            _(
                "the board faces the same way in all pictures, which leaves focal length and "
                "distance mixed up: tilt it by 20 to 40 degrees, to each side, up and down"
            )
        )
    if error > _WORST_ERROR_PX:
        raise UserError(
            _(
                "the corners miss the fitted camera by {error} px: keep the board flat and still, "
                "and the focus and zoom unchanged",
                error=current().decimal(f"{error:.2f}"),
            )
        )
    focal_sd = float(deviations[0, 0]) / float(matrix[0, 0])
    camera = PinholeCamera.from_opencv(matrix, width, height, distortion)
    return BoardCalibration(camera, error, focal_sd, len(views), len(pictures) - len(views))


def _refuse_clustered(views: list[tuple[FloatArray, FloatArray]], width: int, height: int) -> None:
    spots = np.concatenate([p for _b, p in views])
    spread = np.ptp(spots, axis=0) / (width, height)
    if spread.min() < _LEAST_SPREAD:
        share = f"{spread.min():.0%}"
        raise UserError(
            _(
                "the board was seen over {share} of the picture across: move it into the corners "
                "too",
                share=share,
            )
            if spread[0] < spread[1]
            else _(
                "the board was seen over {share} of the picture up and down: move it into the "
                "corners too",
                share=share,
            )
        )


def _largest_angle(normals: FloatArray) -> float:
    cosines = np.clip(normals @ normals.T, -1, 1)
    return float(np.arccos(np.abs(cosines).min()))
