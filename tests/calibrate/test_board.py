"""Boards rendered by OpenCV's own warps at known places; the answer must be the camera used."""

import cv2
import numpy as np
import pytest

from assist.base.errors import UserError
from assist.calibrate.board import Board, calibrate
from optics.camera import PinholeCamera

CAMERA = PinholeCamera(1280, 720, 1100.0, 1100.0, 652.0, 351.0)


def seen(board, turn, place, camera=CAMERA):
    """The board, its upper left corner at `place` metres, turned by the vector `turn`."""
    flat = board.picture(100)
    per_m = round(board.square_mm * 100 / 25.4) / (board.square_mm / 1000)
    margin = max(round(board.square_mm * 100 / 25.4) // 2, round(8 * 100 / 25.4))
    corners_px = np.float32([[0, 0], [1000, 0], [1000, 700], [0, 700]])
    corners_m = np.c_[(corners_px + 0.5 - margin) / per_m, np.zeros(4)]
    there = corners_m @ cv2.Rodrigues(np.array(turn))[0].T + place
    image = np.float32(camera.project(there) - 0.5)
    warp = cv2.getPerspectiveTransform(corners_px, image)
    size = (camera.width_px, camera.height_px)
    return cv2.warpPerspective(
        flat, warp, size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_CONSTANT,
        borderValue=(128, 128, 128),
    )  # fmt: skip


TILTED = [
    ((0.5, 0.1, 0.0), (-0.12, -0.1, 0.45)), ((-0.5, 0.2, 0.1), (-0.25, -0.16, 0.5)),
    ((0.1, 0.6, 0.0), (0.02, -0.13, 0.5)), ((0.0, -0.6, 0.1), (-0.28, 0.0, 0.55)),
    ((0.4, 0.4, 0.0), (0.05, 0.0, 0.55)), ((-0.4, -0.4, 0.2), (-0.15, -0.1, 0.6)),
    ((0.3, -0.5, 0.0), (-0.3, -0.17, 0.6)), ((-0.2, 0.5, 0.0), (0.06, 0.03, 0.6)),
]  # fmt: skip


@pytest.mark.parametrize("kind", ["chessboard", "charuco"])
def test_known_camera_is_found(kind):
    board = Board(kind, 8, 6, 30.0)
    result = calibrate(board, [seen(board, *view) for view in TILTED])
    assert result.used >= 6
    assert result.error_px < 0.5
    assert result.camera.fx_px == pytest.approx(1100.0, rel=0.01)
    assert result.camera.cx_px == pytest.approx(652.0, abs=8)
    assert result.focal_sd < 0.01


def test_square_on_views_are_refused():
    board = Board("charuco", 8, 6, 30.0)
    places = [(x, y, 0.4) for x in (-0.2, -0.1, 0.0) for y in (-0.13, -0.02)]
    with pytest.raises(UserError, match="tilt it"):
        calibrate(board, [seen(board, (0.0, 0.0, 0.0), p) for p in places])


def test_views_in_one_corner_are_refused():
    board = Board("charuco", 8, 6, 30.0)
    pictures = [seen(board, turn, (-0.3, -0.25, 1.3)) for turn, _ in TILTED]
    with pytest.raises(UserError, match="corners too"):
        calibrate(board, pictures)


def test_too_few_views_are_refused_with_a_count():
    board = Board()
    blank = np.zeros((720, 1280, 3), np.uint8)
    with pytest.raises(UserError, match="0 of 3 pictures"):
        calibrate(board, [blank] * 3)
    with pytest.raises(UserError, match="0 of 40 pictures"):
        calibrate(board, [], looked_at=40)


def test_printed_bar_and_squares_have_their_true_size():
    page = Board("chessboard", 5, 4, 25.4).picture(200)
    square = 200  # 25.4 mm at 200 dots an inch
    margin = 100
    row = page[margin + square // 2, margin : margin + 5 * square, 0]
    assert list(np.flatnonzero(np.diff(row.astype(int)) != 0) + 1) == [200, 400, 600, 800]
    bar = page[margin + 4 * square + round(8 * 200 / 25.4), :, 0] < 128
    assert int(bar.sum()) == pytest.approx(100 / 25.4 * 200, abs=6)


@pytest.mark.parametrize("bad", [{"columns": 2}, {"square_mm": 0.0}, {"columns": 30, "rows": 30}])
def test_boards_that_cannot_be(bad):
    with pytest.raises(UserError):
        Board(**bad)
